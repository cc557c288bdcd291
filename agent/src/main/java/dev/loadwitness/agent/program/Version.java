// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.program;

import picocli.CommandLine;

/** Version and build from the jar's manifest. */
public final class Version implements CommandLine.IVersionProvider {
    @Override
    public String[] getVersion() {
        return new String[] {"loadwitness-agent " + text()};
    }

    /** For example {@code 0.1.0 (3f2a9c1d02, 2026-11-25T00:00:00Z)}: version, commit, time stamp that the build was given. */
    public static String text() {
        String version = Version.class.getPackage().getImplementationVersion();
        return version == null ? "development" : version;
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.reporter.verdict.Judge;
import picocli.CommandLine;

/** Version and build from the jar's manifest, and version of the judging method. */
final class Version implements CommandLine.IVersionProvider {
    @Override
    public String[] getVersion() {
        return new String[] {"loadwitness-reporter " + text() + " (method " + Judge.METHOD_VERSION + ")"};
    }

    /** For example {@code 0.1.0 (3f2a9c1d02, 2026-11-25T00:00:00Z)}: version, commit, time stamp that the build was given. */
    static String text() {
        String version = Version.class.getPackage().getImplementationVersion();
        return version == null ? "development" : version;
    }
}

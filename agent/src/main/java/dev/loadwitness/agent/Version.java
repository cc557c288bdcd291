// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import picocli.CommandLine;

/** Version from the jar's manifest. */
final class Version implements CommandLine.IVersionProvider {
    @Override
    public String[] getVersion() {
        return new String[] {"loadwitness-agent " + text()};
    }

    static String text() {
        String version = Version.class.getPackage().getImplementationVersion();
        return version == null ? "development" : version;
    }
}

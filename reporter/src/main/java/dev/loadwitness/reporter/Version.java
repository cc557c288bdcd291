// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.reporter.verdict.Judge;
import picocli.CommandLine;

/** Version from the jar's manifest, and of the judging method. */
final class Version implements CommandLine.IVersionProvider {
    @Override
    public String[] getVersion() {
        return new String[] {"loadwitness-reporter " + text() + " (method " + Judge.METHOD_VERSION + ")"};
    }

    static String text() {
        String version = Version.class.getPackage().getImplementationVersion();
        return version == null ? "development" : version;
    }
}

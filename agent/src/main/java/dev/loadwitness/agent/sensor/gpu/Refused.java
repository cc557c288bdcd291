// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import dev.loadwitness.runlog.Shown;
import java.io.IOException;

/** The server said what it never says: the library wrote into its output, or one of the two is broken. */
final class Refused extends IOException {
    private static final int SHOWN = 80;

    private final String said;

    Refused(String line) {
        said = "its process said what it never says: '" + Shown.line(line, SHOWN) + "'";
    }

    @Override
    public String getMessage() {
        return said;
    }
}

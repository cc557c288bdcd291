// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.screen;

import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.util.Locale;

/** Whether somebody typed s and Enter at the terminal. Never waits: what was not typed yet is asked for again later. */
public final class SkipKey {
    private SkipKey() {}

    public static boolean wasTyped() {
        try {
            int there = System.in.available();
            if (there <= 0) {
                return false;
            }
            // A terminal hands over whole lines.
            String typed = new String(System.in.readNBytes(there), StandardCharsets.US_ASCII);
            return typed.strip().toLowerCase(Locale.ROOT).endsWith("s");
        } catch (IOException e) {
            return false; // no terminal any more: the time limit decides
        }
    }
}

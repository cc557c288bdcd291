// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import java.io.ByteArrayOutputStream;
import java.io.PrintStream;
import java.nio.charset.StandardCharsets;

/** The program called as a user calls it, in this process. Not for two threads at once. */
public final class Commands {
    private Commands() {}

    /** What it printed, and its exit status. */
    public record Said(int status, String out, String err) {}

    public static Said run(String... arguments) {
        PrintStream out = System.out;
        PrintStream err = System.err;
        ByteArrayOutputStream printed = new ByteArrayOutputStream();
        ByteArrayOutputStream complained = new ByteArrayOutputStream();
        try (PrintStream toOut = new PrintStream(printed, true, StandardCharsets.UTF_8);
                PrintStream toErr = new PrintStream(complained, true, StandardCharsets.UTF_8)) {
            System.setOut(toOut);
            System.setErr(toErr);
            int status = Main.run(arguments);
            return new Said(
                    status, printed.toString(StandardCharsets.UTF_8), complained.toString(StandardCharsets.UTF_8));
        } finally {
            System.setOut(out);
            System.setErr(err);
        }
    }
}

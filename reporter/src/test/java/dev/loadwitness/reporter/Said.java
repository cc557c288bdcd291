// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import java.io.ByteArrayOutputStream;
import java.io.PrintStream;
import java.nio.charset.StandardCharsets;

/** The program called in this process: its exit status, and all that it printed. */
record Said(int status, String text) {
    static Said by(Object... arguments) {
        String[] words = new String[arguments.length];
        for (int i = 0; i < words.length; i++) {
            words[i] = arguments[i].toString();
        }
        PrintStream out = System.out;
        PrintStream err = System.err;
        ByteArrayOutputStream said = new ByteArrayOutputStream();
        PrintStream both = new PrintStream(said, true, StandardCharsets.UTF_8);
        try {
            System.setOut(both);
            System.setErr(both);
            int status = Main.run(words);
            return new Said(status, said.toString(StandardCharsets.UTF_8));
        } finally {
            System.setOut(out);
            System.setErr(err);
        }
    }
}

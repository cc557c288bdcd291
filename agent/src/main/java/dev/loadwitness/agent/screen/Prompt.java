// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.screen;

import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import java.io.Console;

/** Asks a person on the terminal. */
public final class Prompt {
    private Prompt() {}

    /** One line, without the blanks round it. */
    public static String answer(Console console, String question) throws Complaint {
        String answer = console.readLine("%s", question);
        if (answer == null) {
            throw new Complaint(Sysexits.USAGE, "no answer; give the options instead, see --help");
        }
        return answer.strip();
    }
}

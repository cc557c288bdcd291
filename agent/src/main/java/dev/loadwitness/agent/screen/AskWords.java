// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.screen;

import dev.loadwitness.agent.run.Status;
import java.util.List;

/**
 * What a person is told to do, for eyes at three metres and for those nearer.
 *
 * @param large one or two words that {@link BlockLetters} has
 * @param lines the same in whole sentences
 */
record AskWords(String large, List<String> lines) {
    static final String SKIP = "Cannot be done here? Type s and Enter: the stage is left out, and the report says so.";

    static AskWords of(Status.Asked asked) {
        return switch (asked.ask()) {
            case POWER_OFF ->
                new AskWords(
                        "SWITCH OFF",
                        List.of(
                                "Shut the machine down, wait until it is cold, then switch it on again.",
                                "After the start 'loadwitness-agent resume' goes on with this run."));
            case SLEEP ->
                new AskWords(
                        "SLEEP",
                        List.of("Put the machine to sleep, wait ten seconds, and wake it.", "It is seen by itself."));
            case REPLUG ->
                asked.halfDone()
                        ? new AskWords("PLUG IN", List.of("Put the adapter's plug back.", "It is seen by itself."))
                        : new AskWords(
                                "UNPLUG", List.of("Pull the adapter's plug at the machine.", "It is seen by itself."));
            case COOL_DOWN ->
                new AskWords(
                        "COOLING",
                        List.of("Leave the machine alone and switched on until it is cold.", "It goes on by itself."));
        };
    }

    /** In one line. */
    String plain() {
        return large + ": " + String.join(" ", lines);
    }
}

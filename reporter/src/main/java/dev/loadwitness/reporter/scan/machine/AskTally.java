// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.machine;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.runlog.procedure.Ask;
import java.util.Map;
import java.util.Optional;

/**
 * What one stage asked of a person, and what came of it.
 *
 * @param asked empty if the log has only that it was done
 * @param done empty if nobody was seen to do it
 * @param leftOut why the stage was left out; empty if it was not
 * @param secondsToWork from power-on (as the boot record tells it), from waking, or else from {@code done} to the first
 *     sample with verified work; NaN if none followed
 * @param celsius last reading of each temperature when it was done, by channel
 */
public record AskTally(
        Ask what,
        String stage,
        Optional<At> asked,
        Optional<At> done,
        String leftOut,
        double secondsToWork,
        Map<String, Double> celsius) {
    public AskTally {
        celsius = Map.copyOf(celsius);
    }

    /** Whether the machine was switched off as asked between the segment {@code before} and the one after it. */
    public boolean explainsEndOf(int before) {
        return what == Ask.POWER_OFF
                && asked.filter(at -> at.segment() == before).isPresent()
                && done.filter(at -> at.segment() == before + 1).isPresent();
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.procedure.Ask;
import java.time.Duration;
import java.util.List;
import java.util.Optional;

/**
 * Where a run stands, for whoever shows it.
 *
 * @param stage id of the stage that runs or is being prepared; empty before the first and after the last
 * @param preparing true while loads start and the witness proves that it can see
 * @param asked what a person has to do before the stage goes on; no load is on meanwhile
 * @param stageLeft time left in this stage
 * @param left time left in the whole run, without preparations
 * @param ended why the run ended, in a few words; empty while it runs
 * @param values last sample, in the order of {@code channels}; empty before the first
 */
public record Status(
        String stage,
        boolean preparing,
        Optional<Asked> asked,
        Duration stageLeft,
        Duration left,
        Optional<String> ended,
        List<Channel> channels,
        List<Double> values) {
    public Status {
        channels = List.copyOf(channels);
        values = List.copyOf(values);
    }

    /** The same, but nobody is asked yet: what is asked for would lose what is not on the disk. */
    public Status notYetAsked() {
        return new Status(stage, preparing, Optional.empty(), stageLeft, left, ended, channels, values);
    }

    /**
     * What a person has to do.
     *
     * @param halfDone whether the plug is out and has to be put back
     * @param left until the stage is left out
     */
    public record Asked(Ask ask, boolean halfDone, Duration left) {}
}

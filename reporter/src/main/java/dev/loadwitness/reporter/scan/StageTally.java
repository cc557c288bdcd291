// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import dev.loadwitness.runlog.procedure.Stage;
import java.util.List;

/**
 * A stage as it ran, and what its part showed meanwhile.
 *
 * @param end when it ended; the last sample if the log breaks off
 * @param why {@code completed}, {@code stopped}, or {@code interrupted} if the log breaks off
 * @param track of the part that the stage proves; empty for other stages
 * @param throttles channels of the part that the stage proves
 * @param verifiedWork units found right during the stage
 * @param powerReadable true if the part's power or energy answered
 */
public record StageTally(
        Stage stage,
        At begin,
        At end,
        String why,
        List<WindowTrack.Window> track,
        List<ThrottleTally> throttles,
        double verifiedWork,
        boolean powerReadable,
        WitnessChecks checks) {
    public StageTally {
        track = List.copyOf(track);
        throttles = List.copyOf(throttles);
    }

    public double seconds() {
        return end.seconds() - begin.seconds();
    }

    /** How often the witness proved before this stage that it can see; a check that failed is in {@code missed}. */
    public record WitnessChecks(int caught, int missed) {}
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import dev.loadwitness.runlog.procedure.Stage;
import java.util.ArrayList;
import java.util.List;

/** A stage that is running while the log is read. */
final class StageScan {
    final Stage stage;
    final At begin;
    final WindowTrack track = new WindowTrack();
    final List<ThrottleTally> throttles = new ArrayList<>();
    final StageTally.WitnessChecks checks;
    double verifiedWork;
    boolean powerReadable;

    StageScan(Stage stage, At begin, StageTally.WitnessChecks checks) {
        this.stage = stage;
        this.begin = begin;
        this.checks = checks;
    }

    StageTally finish(At end, String why) {
        track.finish();
        throttles.forEach(t -> t.finish(end));
        return new StageTally(stage, begin, end, why, track.windows(), throttles, verifiedWork, powerReadable, checks);
    }
}

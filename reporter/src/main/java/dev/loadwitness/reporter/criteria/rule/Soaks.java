// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.rule;

import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.reporter.scan.stage.WindowTrack.Window;
import java.util.Comparator;
import java.util.List;

/** What several criteria read from a stage's windows. */
public final class Soaks {
    /** A load comes up, and a controller settles, within this time of a stage's begin (common practice). */
    public static final double SETTLE_SECONDS = 30;

    private Soaks() {}

    /** Windows in which power was read, without those in which the load comes up. */
    public static List<Window> settledPower(StageTally stage) {
        return stage.track().stream()
                .filter(w -> !Double.isNaN(w.meanWatts()))
                .filter(w -> w.startSeconds() >= stage.begin().seconds() + SETTLE_SECONDS)
                .toList();
    }

    /** The power at or below which the part was for half of the windows' time; NaN without windows. */
    public static double medianWatts(List<Window> windows) {
        List<Window> sorted = windows.stream()
                .sorted(Comparator.comparingDouble(Window::meanWatts))
                .toList();
        double half = sorted.stream().mapToDouble(Window::seconds).sum() / 2;
        double sum = 0;
        for (Window w : sorted) {
            sum += w.seconds();
            if (sum >= half) {
                return w.meanWatts();
            }
        }
        return Double.NaN;
    }
}

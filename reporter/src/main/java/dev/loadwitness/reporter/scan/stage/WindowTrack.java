// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.stage;

import dev.loadwitness.reporter.scan.follow.At;
import java.util.ArrayList;
import java.util.List;
import org.jspecify.annotations.Nullable;

/**
 * How power, work and power limit went through one stage, in windows of ten seconds. When 32,768 windows are full (91 hours),
 * neighbours are merged, keeping the lowest power, work rate and limit of the two: a merged window qualifies only if
 * both halves would have.
 */
public final class WindowTrack {
    static final double FIRST_WINDOW_SECONDS = 10;
    static final int MOST_WINDOWS = 32_768;

    private double windowSeconds = FIRST_WINDOW_SECONDS;
    private final List<Window> windows = new ArrayList<>();

    private double openStart;
    private double openSeconds;
    private double openWork;
    private double openErrors;
    private double openJoules;
    private double openPowerSeconds;
    private double openLowestLimit = Double.NaN;
    private double openLongestGap;
    private @Nullable At openAt;

    /**
     * One step between two samples.
     *
     * @param at the later of the two
     * @param seconds between them
     * @param work verified units done meanwhile; NaN if unknown
     * @param errors wrong units meanwhile; 0 if unknown
     * @param joules drawn meanwhile; NaN if unknown
     * @param limitOnMainsWatts power limit at the later sample if on mains; else NaN
     */
    void add(At at, double seconds, double work, double errors, double joules, double limitOnMainsWatts) {
        if (openAt == null) {
            openAt = at;
            openStart = at.seconds() - seconds;
        }
        openSeconds += seconds;
        openLongestGap = Math.max(openLongestGap, seconds);
        if (!Double.isNaN(work)) {
            openWork += work;
        }
        openErrors += errors;
        if (!Double.isNaN(joules)) {
            openJoules += joules;
            openPowerSeconds += seconds;
        }
        if (!Double.isNaN(limitOnMainsWatts)) {
            openLowestLimit =
                    Double.isNaN(openLowestLimit) ? limitOnMainsWatts : Math.min(openLowestLimit, limitOnMainsWatts);
        }
        if (openSeconds >= FIRST_WINDOW_SECONDS - seconds / 2) {
            closeWindow(openAt);
        }
    }

    /** Call once at the end of the stage. A last piece shorter than half a window joins none. */
    void finish() {
        if (openAt != null && openSeconds >= FIRST_WINDOW_SECONDS / 2) {
            closeWindow(openAt);
        }
    }

    private void closeWindow(At begin) {
        double rate = openWork / openSeconds;
        double watts = openPowerSeconds > 0 ? openJoules / openPowerSeconds : Double.NaN;
        Window window = new Window(
                begin,
                openStart,
                openSeconds,
                openWork,
                openErrors,
                rate,
                watts,
                watts,
                openLowestLimit,
                openLongestGap);
        openSeconds = 0;
        openWork = 0;
        openErrors = 0;
        openJoules = 0;
        openPowerSeconds = 0;
        openLowestLimit = Double.NaN;
        openLongestGap = 0;
        openAt = null;
        place(window);
    }

    private void place(Window window) {
        int last = windows.size() - 1;
        if (last >= 0 && windows.get(last).seconds() + window.seconds() <= windowSeconds * 1.25) {
            windows.set(last, windows.get(last).merge(window));
            return;
        }
        if (windows.size() == MOST_WINDOWS) {
            List<Window> halved = new ArrayList<>(MOST_WINDOWS / 2);
            for (int i = 0; i + 1 < windows.size(); i += 2) {
                halved.add(windows.get(i).merge(windows.get(i + 1)));
            }
            windows.clear();
            windows.addAll(halved);
            windowSeconds *= 2;
        }
        windows.add(window);
    }

    public List<Window> windows() {
        return List.copyOf(windows);
    }

    /**
     * One window.
     *
     * @param lowestRate lowest verified work rate of any ten seconds within, in units per second
     * @param meanWatts NaN if no power was read
     * @param lowestWatts lowest ten-second mean within; NaN if no power was read
     * @param lowestLimitOnMainsWatts NaN if none was read, or not on mains
     * @param longestGapSeconds longest time between two samples within
     */
    public record Window(
            At at,
            double startSeconds,
            double seconds,
            double work,
            double errors,
            double lowestRate,
            double meanWatts,
            double lowestWatts,
            double lowestLimitOnMainsWatts,
            double longestGapSeconds) {
        Window merge(Window next) {
            double together = seconds + next.seconds;
            return new Window(
                    at,
                    startSeconds,
                    together,
                    work + next.work,
                    errors + next.errors,
                    Math.min(lowestRate, next.lowestRate),
                    (meanWatts * seconds + next.meanWatts * next.seconds) / together,
                    Math.min(lowestWatts, next.lowestWatts),
                    lowest(lowestLimitOnMainsWatts, next.lowestLimitOnMainsWatts),
                    Math.max(longestGapSeconds, next.longestGapSeconds));
        }

        private static double lowest(double a, double b) {
            if (Double.isNaN(a)) {
                return b;
            }
            return Double.isNaN(b) ? a : Math.min(a, b);
        }

        public double endSeconds() {
            return startSeconds + seconds;
        }

        public double rate() {
            return work / seconds;
        }
    }
}

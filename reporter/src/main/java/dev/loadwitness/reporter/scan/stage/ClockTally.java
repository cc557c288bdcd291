// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.stage;

import dev.loadwitness.reporter.scan.follow.At;
import java.util.ArrayDeque;
import java.util.Deque;
import java.util.Iterator;
import org.jspecify.annotations.Nullable;

/**
 * How the graphics clock went through one stage of full load, in bins of 5 MHz: all of it, and what of it nothing
 * explains. A sample explains itself if the part was not at work to 95 %, or drew 95 % of its power limit, or if any
 * throttle channel told of holding back within {@link ThrottleTally#MERGE_SECONDS}; close to an edge no sample counts.
 */
public final class ClockTally {
    private static final double BIN_HERTZ = 5e6;
    private static final int BINS = 1000;
    private static final double AT_WORK = 0.95;
    private static final double AT_LIMIT = 0.95;

    /** The clock that a stage is said to hold: this share of its time was spent at it or below. */
    private static final double HELD_QUANTILE = 0.9;

    private final double[] all = new double[BINS];
    private final double[] unexplained = new double[BINS];
    private final At[] firsts = new At[BINS];
    private final Deque<Piece> pending = new ArrayDeque<>();
    private double noneUntil;
    private double explainedUntil = Double.NEGATIVE_INFINITY;
    private double steadySeconds;

    private static final class Piece {
        private final At at;
        private final double seconds;
        private final int bin;
        private boolean explained;

        Piece(At at, double seconds, int bin, boolean explained) {
            this.at = at;
            this.seconds = seconds;
            this.bin = bin;
            this.explained = explained;
        }
    }

    ClockTally(At begin) {
        this.noneUntil = begin.seconds() + ThrottleTally.EDGE_SECONDS;
    }

    /**
     * One sample; what is NaN was not read.
     *
     * @param seconds since the sample before
     * @param held whether a throttle channel tells of holding back since the sample before
     */
    void add(At at, double seconds, double hertz, double utilization, double watts, double limitWatts, boolean held) {
        if (held) {
            explain(at.seconds());
        }
        settle(at.seconds() - ThrottleTally.EDGE_SECONDS);
        if (Double.isNaN(hertz) || Double.isNaN(utilization) || seconds <= 0 || at.seconds() < noneUntil) {
            return;
        }
        boolean explained = utilization < AT_WORK || watts >= AT_LIMIT * limitWatts || at.seconds() < explainedUntil;
        int bin = (int) Math.max(0, Math.min(BINS - 1, Math.floor(hertz / BIN_HERTZ)));
        pending.add(new Piece(at, seconds, bin, explained));
        if (pending.size() > ThrottleTally.MOST_PENDING) {
            settle(pending.removeFirst());
        }
    }

    private void explain(double seconds) {
        explainedUntil = seconds + ThrottleTally.MERGE_SECONDS;
        for (Iterator<Piece> latest = pending.descendingIterator(); latest.hasNext(); ) {
            Piece p = latest.next();
            if (p.at.seconds() <= seconds - ThrottleTally.MERGE_SECONDS) {
                break;
            }
            p.explained = true;
        }
    }

    void edge(double atSeconds) {
        settle(atSeconds - ThrottleTally.EDGE_SECONDS);
        pending.clear();
        noneUntil = Math.max(noneUntil, atSeconds + ThrottleTally.EDGE_SECONDS);
    }

    private void settle(double untilSeconds) {
        while (!pending.isEmpty() && pending.peekFirst().at.seconds() <= untilSeconds) {
            settle(pending.removeFirst());
        }
    }

    private void settle(Piece p) {
        all[p.bin] += p.seconds;
        steadySeconds += p.seconds;
        if (!p.explained) {
            unexplained[p.bin] += p.seconds;
            firsts[p.bin] = firsts[p.bin] == null ? p.at : firsts[p.bin];
        }
    }

    void finish(At end) {
        edge(end.seconds());
    }

    /** Time of which clock and utilisation are known, away from edges. */
    public double steadySeconds() {
        return steadySeconds;
    }

    /** The clock that the stage held: that of a tenth of its time was higher. NaN without readings. */
    public double heldHertz() {
        double sum = 0;
        for (int i = 0; i < BINS; i++) {
            sum += all[i];
            if (sum > 0 && sum >= HELD_QUANTILE * steadySeconds) {
                return (i + 0.5) * BIN_HERTZ;
            }
        }
        return Double.NaN;
    }

    /**
     * How far the clock next to the one held is from it, among those that it had: a quantile of clocks that come in steps jumps by
     * whole ones. At least the width of a bin; NaN without readings.
     */
    public double stepHertz() {
        double held = heldHertz();
        if (Double.isNaN(held)) {
            return Double.NaN;
        }
        int bin = (int) (held / BIN_HERTZ);
        for (int apart = 1; apart < BINS; apart++) {
            if ((bin >= apart && all[bin - apart] > 0) || (bin + apart < BINS && all[bin + apart] > 0)) {
                return apart * BIN_HERTZ;
            }
        }
        return BIN_HERTZ;
    }

    /** Unexplained time at a clock more than {@code share} below the one held. */
    public Loss lostBelow(double share) {
        double floor = heldHertz() * (1 - share);
        double seconds = 0;
        At first = null;
        for (int i = 0; i < BINS && (i + 1) * BIN_HERTZ <= floor; i++) {
            seconds += unexplained[i];
            if (firsts[i] != null && (first == null || firsts[i].seconds() < first.seconds())) {
                first = firsts[i];
            }
        }
        return new Loss(seconds, first);
    }

    /**
     * Time lost.
     *
     * @param first null if there was none
     */
    public record Loss(double seconds, @Nullable At first) {}
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import java.util.ArrayList;
import java.util.List;
import java.util.Optional;

/**
 * Means of a stream over windows of one fixed length, in constant memory. Window {@code i} reaches from
 * {@code origin + i·length} up to, not including, {@code origin + (i+1)·length}; its mean is the plain mean of the samples whose
 * time lies in it. A window with fewer samples than the required share of those expected is incomplete and not used.
 *
 * <p>Why not the largest single reading: the maximum of thousands of readings rises with their number and noise.
 *
 * <p>Times are nanoseconds on one clock that never steps. They belong to one boot: use a new object after a restart. A sample
 * that is not later than the one before it, or earlier than the origin, is left out and counted, so that repeated samples cannot
 * fill a window.
 */
public final class BlockMeans {
    /** Most windows remembered one by one. One more, and windows are joined in pairs: twice as long, half as many. */
    public static final int KEPT_MAXIMUM = 600;

    /** One window that holds enough samples. */
    public record Block(long startNanos, long durationNanos, long samples, double mean) {}

    /**
     * What the windows showed.
     *
     * @param highest the complete window with the highest mean, the earliest of equals; empty when none is complete
     * @param lowest the complete window with the lowest mean, the earliest of equals; empty when none is complete
     * @param completeBlocks windows used
     * @param incompleteBlocks windows from the origin to the last sample that had too few samples or none
     * @param samplesLeftOut samples earlier than the origin, or not later than the one before
     * @param keptBlockNanos length of the windows in {@code kept}: the length asked for, times a power of two
     * @param kept at most {@link #KEPT_MAXIMUM} complete windows in order of time, exactly those which a run of this class with
     *     windows of {@code keptBlockNanos} would have found
     */
    public record Result(
            Optional<Block> highest,
            Optional<Block> lowest,
            long completeBlocks,
            long incompleteBlocks,
            long samplesLeftOut,
            long keptBlockNanos,
            List<Block> kept) {
        public Result {
            kept = List.copyOf(kept);
        }

        /** The means alone, in order of time, for {@link CorrelatedMean}. Gaps between windows are closed up. */
        public double[] keptMeans() {
            return kept.stream().mapToDouble(Block::mean).toArray();
        }
    }

    private final long originNanos;
    private final long blockNanos;
    private final double expectedSamples;
    private final double requiredShare;

    private boolean finished;
    private boolean started;
    private long lastTimeNanos;
    private long leftOut;

    private long openWindow;
    private long openCount;
    private double openMean;

    private long complete;
    private Block highest;
    private Block lowest;

    /** Windows are joined 2^doublings at a time; incomplete ones are kept too, since two of them may make a complete one. */
    private int doublings;

    private int keptCount;
    private final long[] keptWindow = new long[KEPT_MAXIMUM + 1];
    private final long[] keptSamples = new long[KEPT_MAXIMUM + 1];
    private final double[] keptMean = new double[KEPT_MAXIMUM + 1];

    /**
     * Starts without samples.
     *
     * @param originNanos start of the first window, 0 or later
     * @param blockNanos length of a window
     * @param periodNanos time between two samples when none is missed; at most the length of a window
     * @param requiredShare share of the expected samples that makes a window complete, above 0, at most 1
     */
    public BlockMeans(long originNanos, long blockNanos, long periodNanos, double requiredShare) {
        this.originNanos = Numbers.requireNotNegative(originNanos, "origin in nanoseconds");
        this.blockNanos = Numbers.requirePositive(blockNanos, "length of a block in nanoseconds");
        Numbers.requirePositive(periodNanos, "sampling period in nanoseconds");
        if (periodNanos > blockNanos) {
            throw new IllegalArgumentException("sampling period " + periodNanos + " ns is longer than the block of "
                    + blockNanos + " ns; a block must hold at least one sample");
        }
        this.expectedSamples = (double) blockNanos / periodNanos;
        if (!(requiredShare > 0 && requiredShare <= 1)) {
            throw new IllegalArgumentException(
                    "required share is " + requiredShare + "; it must be above 0 and at most 1");
        }
        this.requiredShare = requiredShare;
    }

    /**
     * Takes one sample.
     *
     * @throws IllegalArgumentException when the value is not finite
     * @throws IllegalStateException after {@link #finish()}
     */
    public void add(long timeNanos, double value) {
        requireOpen();
        Numbers.requireFinite(value, "value");
        if (timeNanos < originNanos || (started && timeNanos <= lastTimeNanos)) {
            leftOut++;
            return;
        }
        long window = (timeNanos - originNanos) / blockNanos;
        if (started && window != openWindow) {
            closeWindow();
        }
        started = true;
        lastTimeNanos = timeNanos;
        openWindow = window;
        openCount++;
        openMean += (value - openMean) / openCount;
    }

    /** Closes the last window, which counts if it holds enough samples, and gives the figures. Can be called once. */
    public Result finish() {
        requireOpen();
        finished = true;
        long windows = 0;
        if (started) {
            closeWindow();
            windows = openWindow + 1;
        }
        List<Block> kept = new ArrayList<>();
        for (int i = 0; i < keptCount; i++) {
            if (isComplete(keptSamples[i], doublings)) {
                kept.add(block(keptWindow[i], doublings, keptSamples[i], keptMean[i]));
            }
        }
        return new Result(
                Optional.ofNullable(highest),
                Optional.ofNullable(lowest),
                complete,
                windows - complete,
                leftOut,
                blockNanos << doublings,
                kept);
    }

    private void requireOpen() {
        if (finished) {
            throw new IllegalStateException("these block means are finished; start new ones");
        }
    }

    private void closeWindow() {
        if (isComplete(openCount, 0)) {
            complete++;
            Block block = block(openWindow, 0, openCount, openMean);
            if (highest == null || block.mean() > highest.mean()) {
                highest = block;
            }
            if (lowest == null || block.mean() < lowest.mean()) {
                lowest = block;
            }
        }
        keep(openWindow >> doublings, openCount, openMean);
        while (keptCount > KEPT_MAXIMUM) {
            joinPairs();
        }
        openCount = 0;
        openMean = 0;
    }

    /** Windows come in order, so that only the last kept one can be the same. */
    private void keep(long window, long samples, double mean) {
        int last = keptCount - 1;
        if (last >= 0 && keptWindow[last] == window) {
            keptSamples[last] += samples;
            keptMean[last] += (mean - keptMean[last]) * samples / keptSamples[last];
        } else {
            keptWindow[keptCount] = window;
            keptSamples[keptCount] = samples;
            keptMean[keptCount] = mean;
            keptCount++;
        }
    }

    private void joinPairs() {
        int before = keptCount;
        doublings++;
        keptCount = 0;
        for (int i = 0; i < before; i++) {
            keep(keptWindow[i] >> 1, keptSamples[i], keptMean[i]);
        }
    }

    private boolean isComplete(long samples, int doubled) {
        return samples >= requiredShare * expectedSamples * (1L << doubled);
    }

    private Block block(long window, int doubled, long samples, double mean) {
        long duration = blockNanos << doubled;
        return new Block(originNanos + window * duration, duration, samples, mean);
    }
}

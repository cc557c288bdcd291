// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.heat;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.runlog.Channel;
import org.jspecify.annotations.Nullable;

/** Follows one temperature channel. */
final class TemperatureScan {
    /** A block with less than this share of its samples says nothing about a minute. */
    private static final double FULL_BLOCK = 0.8;

    /** The last one of a boot is taken with less (ours): a machine that dies of heat dies while it rises. */
    private static final double LAST_BLOCK = 0.4;

    private final Channel channel;
    private final double blockSeconds;
    private final double expectedPerBlock;

    private long readings;
    private double peak = Double.NaN;
    private @Nullable At peakAt;

    private long blockIndex = -1;
    private int blockSegment = -1;
    private @Nullable At blockAt;
    private long blockCount;
    private double blockMean;
    private double blockSquares;

    private double hottestMean = Double.NaN;
    private double hottestDeviation = Double.NaN;
    private long hottestCount;
    private @Nullable At hottestAt;

    TemperatureScan(Channel channel, double blockSeconds, double periodSeconds) {
        this.channel = channel;
        this.blockSeconds = blockSeconds;
        this.expectedPerBlock = blockSeconds / periodSeconds;
    }

    void add(At at, double value) {
        if (Double.isNaN(value)) {
            return;
        }
        readings++;
        if (!(value <= peak)) {
            peak = value;
            peakAt = at;
        }
        block(at, value);
    }

    private void block(At at, double value) {
        long index = (long) Math.floor(at.seconds() / blockSeconds);
        if (index != blockIndex || at.segment() != blockSegment) {
            closeBlock(at.segment() != blockSegment);
            blockIndex = index;
            blockSegment = at.segment();
            blockAt = at;
            blockCount = 0;
            blockMean = 0;
            blockSquares = 0;
        }
        blockCount++;
        double delta = value - blockMean;
        blockMean += delta / blockCount;
        blockSquares += delta * (value - blockMean);
    }

    private void closeBlock(boolean last) {
        boolean full = blockCount >= 1 && blockCount >= (last ? LAST_BLOCK : FULL_BLOCK) * expectedPerBlock;
        if (full && !(blockMean <= hottestMean)) {
            hottestMean = blockMean;
            hottestDeviation = blockCount > 1 ? Math.sqrt(blockSquares / (blockCount - 1)) : Double.NaN;
            hottestCount = blockCount;
            hottestAt = blockAt;
        }
    }

    TemperatureTally finish() {
        closeBlock(true);
        return new TemperatureTally(
                channel, readings, hottestMean, hottestDeviation, hottestCount, hottestAt, peak, peakAt);
    }
}

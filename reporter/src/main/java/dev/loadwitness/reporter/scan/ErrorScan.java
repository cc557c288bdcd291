// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import dev.loadwitness.runlog.Channel;

/** Follows one counter of errors that the platform reports. */
final class ErrorScan {
    private final Channel channel;
    private boolean answered;
    private double loaded;
    private double loadedSeconds;
    private double idle;
    private double idleSeconds;
    private double total;
    private At first;

    ErrorScan(Channel channel) {
        this.channel = channel;
    }

    /** @param stage the one that runs; null outside any */
    void add(At at, double value, double increase, double seconds, StageScan stage) {
        if (Double.isNaN(value)) {
            return;
        }
        answered = true;
        total += increase;
        first = first == null && increase > 0 ? at : first;
        if (stage != null && stage.stage.loads().isEmpty()) {
            idle += increase;
            idleSeconds += seconds;
        } else if (stage != null) {
            loaded += increase;
            loadedSeconds += seconds;
        }
    }

    ErrorTally finish() {
        return new ErrorTally(channel, answered, loaded, loadedSeconds, idle, idleSeconds, total, first);
    }
}

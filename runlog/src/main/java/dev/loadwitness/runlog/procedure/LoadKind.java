// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import dev.loadwitness.runlog.Word;

/** What a stage can put on the machine. */
public enum LoadKind implements Word {
    /** All cores, verified arithmetic. */
    CPU,
    /** A march test over a share of free memory. */
    MEMORY,
    /** Multiply-add chains: the graphics core rail. */
    GPU_CORE,
    /** Memory traffic: the graphics memory rail. */
    GPU_MEMORY,
    /** Both, tuned until power stops rising. */
    GPU_MIX,
    /** 25, 50, 75, 100 % and down: crosses the phase-shedding boundaries. */
    GPU_RAMP,
    /** On and off at rising rates: the transient response of the power stage. */
    GPU_STEPS;

    /**
     * Whether this load by itself is the full load of its part. Loads of one rail alone draw less by their nature, and a
     * ramp or steps only now and then.
     */
    public boolean isFull() {
        return this == CPU || this == MEMORY || this == GPU_MIX;
    }

    public boolean needsGpu() {
        return this != CPU && this != MEMORY;
    }
}

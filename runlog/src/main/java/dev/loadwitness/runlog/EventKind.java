// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

/** The events this version knows. Facts named in each comment; times are seconds. A newer agent may write others. */
public enum EventKind implements Word {
    /** {@code stage}, {@code seconds} planned. */
    STAGE_BEGIN,
    /** {@code stage}, {@code why}: completed, stopped. */
    STAGE_END,
    /** A stage whose device may be absent and is, or that asked for what was not done: {@code stage}, {@code why}. */
    STAGE_LEFT_OUT,
    /**
     * {@code load}, {@code role}, {@code scheduling}; for GPU loads {@code device}, {@code deviceType}, {@code address},
     * {@code how} it was chosen, {@code peakGflops}, and {@code standIn} true if it is no GPU.
     */
    LOAD_BEGIN,
    /** {@code load}, {@code why}. */
    LOAD_END,
    /** A load was told another share of full load, and follows it: {@code load}, {@code level} 0 to 1, {@code seconds} late. */
    LOAD_LEVEL,
    /**
     * Edges of a load that switches on and off, as the worker saw them: {@code load}, {@code period} commanded, {@code duty}
     * commanded, {@code edges}: microseconds since the first edge of this record, comma-separated, on and off in turn and
     * on first, {@code since}: seconds from the load's beginning to that first edge.
     */
    LOAD_EDGES,
    /** What the search for the heaviest load tried: {@code load}, {@code detail}, {@code watts} or {@code rate}, {@code chosen}. */
    LOAD_TUNED,
    /** The witness proves that it can see: {@code check} planted-miscomputation or planted-dropout, {@code caught}. */
    WITNESS_CHECK,
    /** {@code role}, {@code detail}. */
    COMPUTE_ERROR,
    /** {@code detail}. */
    MEMORY_ERROR,
    /** {@code load}, {@code detail}. */
    WORKER_DIED,
    /** {@code load}, {@code seconds}. */
    WORKER_STALLED,
    /** A source missed its deadline or failed; its channels are null until it is back: {@code source}, {@code detail}. */
    SOURCE_SILENT,
    /** {@code source}, {@code seconds}. */
    SOURCE_BACK,
    ADAPTER_OFF,
    ADAPTER_ON,
    /** {@code channel}, {@code from}, {@code to}. */
    LIMIT_CHANGED,
    /** The machine slept: {@code seconds}. */
    SUSPENDED,
    /** Wall clock moved against the monotonic clock: {@code seconds}, positive forwards. */
    CLOCK_STEP,
    /** Sampler, heartbeat and workers all stood still: {@code seconds}. */
    HANG,
    /** The log's disk, or the sampler alone, stood still: {@code seconds}, {@code detail}. */
    WITNESS_STALLED,
    /** The queue to the disk was full: {@code count}, {@code from} and {@code to} on the segment's clock. */
    SAMPLES_DROPPED,
    /**
     * On resuming: whole records lay behind spoilt bytes and are no part of the log any more: {@code count}, {@code damage} its
     * word, {@code place} of those bytes.
     */
    RECORDS_LEFT_BEHIND,
    /** The disk is full, gone or read-only: {@code detail}. */
    STORAGE_LOW,
    /** The disk takes records again, and all that waited: {@code seconds}. */
    STORAGE_BACK,
    /** A safety ceiling, or the silence of the sensor that guards it: {@code role}, {@code detail}. */
    SAFETY_STOP,
    /** Full load with nothing that watches this part's temperature: {@code role}. */
    UNGUARDED,
    /** {@code detail}: the signal or key. */
    OPERATOR_STOP,
    /** The system was shut down or started again, and the log left open for the next boot. In older logs; not written any more. */
    SYSTEM_STOPPING,
    /** {@code text}. */
    OPERATOR_NOTE,
    /** A stage waits for what only a person can do: {@code what} a word of {@link dev.loadwitness.runlog.procedure.Ask}, {@code stage}. */
    OPERATOR_ASKED,
    /** What was asked has been seen to be done: {@code what}, {@code stage}, {@code seconds} since it was asked, NaN left out. */
    OPERATOR_DONE,
    /**
     * There when the watch over the devices began, in each boot: {@code role} ({@code board} for all others),
     * {@code device} for people, {@code id} of its place, the same from boot to boot; {@code removable} true if it is made
     * to be pulled out, {@code witness} true if the log or this program lies on it. Either is left out where it is not.
     */
    DEVICE_PRESENT,
    /** {@code role}, {@code device}, and {@code id}, {@code removable}, {@code witness} as above. */
    DEVICE_LEFT,
    /** The same. */
    DEVICE_ARRIVED,
    /** The driver no longer reaches the device: {@code role}, {@code device}, {@code detail}. */
    DEVICE_LOST,
    /** The driver was restarted or reset the device: {@code role}, {@code device}, {@code detail}. */
    DRIVER_RESET,
    /** {@code text}; {@code fault}: what it tells of, in our words, where that is known; {@code role}. */
    KERNEL_MESSAGE
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

/** What the library returns: {@code nvmlReturn_t}. Kept as the number that came; only these need telling apart. */
final class Code {
    static final int SUCCESS = 0;
    static final int UNINITIALIZED = 1;
    static final int NOT_SUPPORTED = 3;
    static final int NO_PERMISSION = 4;
    static final int NOT_FOUND = 6;
    static final int INSUFFICIENT_SIZE = 7;
    static final int DRIVER_NOT_LOADED = 9;
    static final int FUNCTION_NOT_FOUND = 13;
    static final int GPU_IS_LOST = 15;
    static final int RESET_REQUIRED = 16;

    /** Ours, and none of the library's: it says success and gives no device. */
    static final int NO_HANDLE = -2;

    private static final String[] NAMES = {
        "success",
        "not initialised",
        "invalid argument",
        "not supported",
        "no permission",
        "already initialised",
        "not found",
        "insufficient size",
        "external power cables not properly attached",
        "driver not loaded",
        "time-out",
        "interrupt trouble",
        "library not found",
        "function not found",
        "corrupted inforom",
        "GPU is lost",
        "reset required",
        "refused by the operating system",
        "driver and library do not match",
        "in use",
        "out of memory",
        "no data",
        "vGPU without ECC",
        "insufficient resources",
        "frequency not supported",
        "argument version mismatch",
        "deprecated",
        "not ready",
        "GPU not found",
        "invalid state",
        "reset type not supported",
    };

    private Code() {}

    /** For people, with the number. */
    static String text(int code) {
        if (code == NO_HANDLE) {
            return "success, but it gave no device";
        }
        String name = code >= 0 && code < NAMES.length ? NAMES[code] : code == 999 ? "unknown error" : "unlisted";
        return name + " (" + code + ")";
    }

    /** Whether the part itself is out of reach, and not only this question of no use. */
    static boolean isLoss(int code) {
        return code == GPU_IS_LOST || code == RESET_REQUIRED;
    }

    /** Whether the driver under the library has gone, for all parts. */
    static boolean isDriverGone(int code) {
        return code == UNINITIALIZED || code == DRIVER_NOT_LOADED;
    }
}

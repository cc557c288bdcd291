// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import java.util.Arrays;
import java.util.Random;

/** The bytes of a run's reserve on its disk: the same for the same run, so that what is found can be told to be one. */
public final class Reserve {
    private Reserve() {}

    static byte[] bytes(String runId, int count) {
        byte[] bytes = new byte[count];
        // Not zeros: a file system may store those as nothing.
        new Random(runId.hashCode()).nextBytes(bytes);
        return bytes;
    }

    /** Whether {@code found} is the reserve of that run, or the beginning of it. */
    public static boolean isOf(String runId, byte[] found) {
        // Random gives four bytes at a time, so that a beginning is the same however many follow.
        return Arrays.equals(found, Arrays.copyOf(bytes(runId, found.length + 3 & ~3), found.length));
    }
}

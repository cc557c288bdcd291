// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.gpu;

import dev.loadwitness.agent.load.opencl.Compute;
import java.util.ArrayList;
import java.util.List;
import java.util.concurrent.TimeUnit;

/** When pulses began and ended, on the device's clock, for one record of the log. */
final class Edges {
    /** Keeps a record of edges to about a kibibyte. */
    private static final int PULSES_A_RECORD = 64;

    /** No record of edges spans more: a clock that leaps is not followed. */
    private static final long LONGEST_RECORD_MICROS = TimeUnit.MINUTES.toMicros(10);

    private final List<Long> nanos = new ArrayList<>();

    void add(Compute.Span pulse) {
        nanos.add(pulse.beginNanos());
        nanos.add(pulse.endNanos());
    }

    boolean isFull() {
        return nanos.size() == 2 * PULSES_A_RECORD;
    }

    boolean isEmpty() {
        return nanos.isEmpty();
    }

    long firstNanos() {
        return nanos.get(0);
    }

    void clear() {
        nanos.clear();
    }

    /** Microseconds since the first. A clock that goes back, by itself or because its driver lies, gives edges of no length. */
    List<Long> inOrder() {
        List<Long> micros = new ArrayList<>();
        long last = 0;
        for (long edge : nanos) {
            long now = Math.round((edge - firstNanos()) / 1e3);
            last = Math.max(last, Math.min(now, LONGEST_RECORD_MICROS));
            micros.add(last);
        }
        return micros;
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import dev.loadwitness.agent.sensor.linux.file.SampledFile;
import dev.loadwitness.agent.sensor.linux.file.Value;
import java.io.IOException;
import java.util.List;
import java.util.function.LongSupplier;

/**
 * A powercap energy counter made to grow for ever. The kernel's wraps at {@code max_energy_range_uj}, at 100 W every 11
 * or 44 minutes; it must be read oftener than that.
 */
final class EnergyCounter implements Value {
    private static final double MICROJOULES_PER_JOULE = 1e6;
    private static final double MICROJOULES_PER_WATT_NANOSECOND = 1e-3;
    /** More than any laptop part draws: a difference above it is no wrap but a counter set back, as sleep does. */
    private static final double IMPOSSIBLE_WATTS = 1000;

    private final SampledFile file;
    private final long rangeMicrojoules;
    private final LongSupplier nanoClock;
    private boolean started;
    private long lastMicrojoules;
    private long lastNanos;
    private long totalMicrojoules;

    /** @param rangeMicrojoules the highest value before it starts again at 0; 0 if unknown */
    EnergyCounter(SampledFile file, long rangeMicrojoules, LongSupplier nanoClock) {
        this.file = file;
        this.rangeMicrojoules = rangeMicrojoules;
        this.nanoClock = nanoClock;
    }

    /** Joules; what the kernel had counted at the first read, and all that came since. */
    @Override
    public double read() throws IOException {
        long now = file.number();
        long nanos = nanoClock.getAsLong();
        if (!started) {
            started = true;
            totalMicrojoules = now;
        } else if (now >= lastMicrojoules) {
            totalMicrojoules += now - lastMicrojoules;
        } else {
            long wrapped = now - lastMicrojoules + rangeMicrojoules;
            double possible = (nanos - lastNanos) * IMPOSSIBLE_WATTS * MICROJOULES_PER_WATT_NANOSECOND;
            totalMicrojoules += wrapped >= 0 && wrapped <= possible ? wrapped : now;
        }
        lastMicrojoules = now;
        lastNanos = nanos;
        return totalMicrojoules / MICROJOULES_PER_JOULE;
    }

    @Override
    public List<SampledFile> files() {
        return List.of(file);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

import java.util.Locale;
import java.util.Optional;

/** Which chip a fan cools, as far as its name tells. */
public final class FanPlace {
    private FanPlace() {}

    /**
     * The chip: {@code cpu} or {@code gpu-discrete}. Empty if the fan's label and id name neither or both; on most laptops
     * both chips then share one heatsink.
     */
    public static Optional<Role> cools(Channel fan) {
        String name = (fan.id() + " " + fan.label()).toLowerCase(Locale.ROOT);
        boolean gpu = name.contains("gpu");
        boolean cpu = name.contains("cpu") || name.contains("processor");
        if (gpu == cpu) {
            return Optional.empty();
        }
        return Optional.of(gpu ? Role.GPU_DISCRETE : Role.CPU);
    }

    /** The chip whose heat a temperature channel tells; a processor's own graphics are the same piece. Empty if none. */
    public static Optional<Role> chip(Channel temperature) {
        if (!temperature.measures(Metric.TEMPERATURE)) {
            return Optional.empty();
        }
        return switch (temperature.role()) {
            case CPU, GPU_INTEGRATED -> Optional.of(Role.CPU);
            case GPU_DISCRETE -> Optional.of(Role.GPU_DISCRETE);
            default -> Optional.empty();
        };
    }
}

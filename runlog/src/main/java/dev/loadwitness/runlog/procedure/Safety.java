// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.yaml.Measure;
import java.time.Duration;
import java.util.Collections;
import java.util.Map;
import java.util.Optional;
import java.util.TreeMap;
import java.util.stream.Collectors;

/**
 * When the agent takes the load off by itself.
 *
 * @param stopAboveCelsius by part: one reading above it ends the run
 * @param silentAfter a temperature that answered before and has not for this long counts as above the ceiling
 * @param stopWhenAdapterLost whether losing the adapter ends the run
 * @param allowUnguarded whether a part may be loaded that no temperature sensor watches: attended runs only
 */
public record Safety(
        Map<Role, Double> stopAboveCelsius, Duration silentAfter, boolean stopWhenAdapterLost, boolean allowUnguarded) {
    /**
     * No load is put on with a higher ceiling, whoever wrote the procedure. Ours: a few kelvin above what parts of that kind
     * state as their own limit (processors 95 to 110 °C, graphics 87 to 105, memory modules 85 to 95, drives 70 to 85, lithium cells
     * 60 when discharging; all from memory), so that no sound machine needs more.
     */
    private static final Map<Role, Double> HIGHEST_CELSIUS = Map.of(
            Role.CPU, 110.0,
            Role.GPU_INTEGRATED, 110.0,
            Role.GPU_DISCRETE, 105.0,
            Role.MEMORY, 100.0,
            Role.BOARD, 110.0,
            Role.STORAGE, 90.0,
            Role.BATTERY, 60.0);

    public Safety {
        // In the order of the enum: an unordered copy would print differently from run to run.
        stopAboveCelsius = Collections.unmodifiableMap(new TreeMap<>(Map.copyOf(stopAboveCelsius)));
    }

    /**
     * Which ceilings are too high for any load, in words; empty if none is. Not asked by readers: a log of a run that was
     * run so stays readable.
     */
    public Optional<String> tooHigh() {
        String all = stopAboveCelsius.entrySet().stream()
                .filter(e -> e.getValue() > highestCelsius(e.getKey()))
                .map(e -> e.getKey().word() + " " + Measure.TEMPERATURE.write(e.getValue()) + " (at most "
                        + Measure.TEMPERATURE.write(highestCelsius(e.getKey())) + ")")
                .collect(Collectors.joining(", "));
        return all.isEmpty() ? Optional.empty() : Optional.of("stop-above is too high for " + all);
    }

    private static double highestCelsius(Role part) {
        return HIGHEST_CELSIUS.getOrDefault(part, Double.NEGATIVE_INFINITY);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

import java.util.Collections;
import java.util.EnumMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.regex.Pattern;

/**
 * One measured quantity of one boot.
 *
 * @param id unique in its table and the same from boot to boot, for example {@code cpu.package.temperature}
 * @param role the part it is about
 * @param component device path or address, which tells two like parts apart; empty if there is none
 * @param label the driver's own label; empty if there is none
 * @param source who is asked, for example {@code hwmon/coretemp}; sources fail as a whole
 * @param cause for throttle metrics, why; else empty
 * @param resolution the smallest step of the reading in the metric's unit; NaN if unknown
 * @param standardUncertainty of one reading (calibration, not noise) in the metric's unit; NaN if unknown
 * @param limits what the device says about itself, in the metric's unit
 */
public record Channel(
        String id,
        Metric metric,
        Role role,
        String component,
        String label,
        String source,
        Optional<Cause> cause,
        double resolution,
        double standardUncertainty,
        Map<LimitType, Double> limits) {
    private static final Pattern ID = Pattern.compile("[a-z0-9][a-z0-9._-]{0,99}");

    public Channel {
        if (!ID.matcher(id).matches()) {
            throw new IllegalArgumentException(
                    "channel id '" + id + "' is not of lower-case letters, digits, '.', '_' and '-'");
        }
        EnumMap<LimitType, Double> copy = new EnumMap<>(LimitType.class);
        copy.putAll(limits);
        limits = Collections.unmodifiableMap(copy);
    }

    /** A channel that states no resolution, uncertainty or limits. */
    public static Channel of(String id, Metric metric, Role role, String source) {
        return new Channel(id, metric, role, "", "", source, Optional.empty(), Double.NaN, Double.NaN, Map.of());
    }

    public Channel withComponent(String component, String label) {
        return new Channel(id, metric, role, component, label, source, cause, resolution, standardUncertainty, limits);
    }

    public Channel withCause(Cause cause) {
        return new Channel(
                id,
                metric,
                role,
                component,
                label,
                source,
                Optional.of(cause),
                resolution,
                standardUncertainty,
                limits);
    }

    public Channel withQuality(double resolution, double standardUncertainty) {
        return new Channel(id, metric, role, component, label, source, cause, resolution, standardUncertainty, limits);
    }

    public Channel withLimits(Map<LimitType, Double> limits) {
        return new Channel(id, metric, role, component, label, source, cause, resolution, standardUncertainty, limits);
    }

    public OptionalDouble limit(LimitType type) {
        Double value = limits.get(type);
        return value == null ? OptionalDouble.empty() : OptionalDouble.of(value);
    }

    /**
     * The value at which the hardware slows itself down; where it states none, of a temperature the highest that its
     * driver aims for. Laptops are built to run at the latter for hours, so it is no limit beside the former.
     */
    public OptionalDouble slowdown() {
        OptionalDouble hardware = limit(LimitType.THROTTLED);
        return hardware.isPresent() || !measures(Metric.TEMPERATURE) ? hardware : limit(LimitType.MAX);
    }

    /**
     * Whether a procedure's temperature for a part is meant for this channel, one of {@code all}. A graphics part's is
     * meant for its chip, whose temperature is the first of that device; its memory and its hot spots run hotter by
     * design, and have only the limits that the device states for them.
     */
    public boolean isOfTheChip(List<Channel> all) {
        if (role != Role.GPU_DISCRETE && role != Role.GPU_INTEGRATED) {
            return true;
        }
        return all.stream()
                .filter(c -> c.is(role, metric) && c.component().equals(component))
                .findFirst()
                .map(first -> first.id().equals(id))
                .orElse(true);
    }

    /** Whether that is what it measures; the unit that a newer agent may have written is not looked at. */
    public boolean measures(Metric quantity) {
        return metric.name().equals(quantity.name());
    }

    public boolean is(Role role, Metric metric) {
        return this.role == role && measures(metric);
    }
}

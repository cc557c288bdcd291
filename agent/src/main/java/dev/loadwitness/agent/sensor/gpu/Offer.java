// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.util.EnumMap;
import java.util.Map;
import java.util.Optional;
import java.util.stream.Collectors;
import java.util.stream.Stream;

/**
 * A channel as the server offers it, before it is known which part of the machine its GPU is.
 *
 * @param name the channel's id without its GPU's prefix, for example {@code core.temperature}
 * @param resolution NaN if unknown
 */
record Offer(
        String name,
        Metric metric,
        String label,
        Optional<Cause> cause,
        double resolution,
        Map<LimitType, Double> limits) {
    /** All that a GPU may offer. The server names one of them, and what is its GPU's own: label and limits. */
    private static final Map<String, Offer> KNOWN = Stream.of(
                    of("core.temperature", Metric.TEMPERATURE, "GPU").withResolution(1),
                    of("memory.temperature", Metric.TEMPERATURE, "memory").withResolution(1),
                    of("power", Metric.POWER, "mean of 1 s (before Ampere, and GA100: of the moment)")
                            .withResolution(1e-3),
                    of("power.instant", Metric.POWER, "of the moment").withResolution(1e-3),
                    of("power.limit", Metric.POWER_LIMIT, "enforced: the lowest of all limits")
                            .withResolution(1e-3),
                    of("energy", Metric.ENERGY, "since the driver was loaded").withResolution(1e-3),
                    of("power.highest", Metric.POWER_HIGHEST, "of the driver's samples since the last reading"),
                    of("power.lowest", Metric.POWER_LOWEST, "of the driver's samples since the last reading"),
                    of("clock", Metric.GPU_CLOCK, "SM").withResolution(1e6),
                    of("memory.clock", Metric.GPU_MEMORY_CLOCK, "memory").withResolution(1e6),
                    flag(Cause.HEAT),
                    flag(Cause.POWER_BRAKE),
                    flag(Cause.HARDWARE_SLOWDOWN),
                    flag(Cause.POWER_CAP),
                    of("throttle.heat.time", Metric.THROTTLE_TIME, "thermal policy")
                            .withCause(Cause.HEAT),
                    of("throttle.power-cap.time", Metric.THROTTLE_TIME, "power policy")
                            .withCause(Cause.POWER_CAP),
                    of("throttle.board-limit.time", Metric.THROTTLE_TIME, "board limit policy")
                            .withCause(Cause.POWER_CAP),
                    of("throttle.heat.hardware-time", Metric.THROTTLE_TIME, "hardware thermal slowdown")
                            .withCause(Cause.HEAT),
                    of("throttle.power-brake.time", Metric.THROTTLE_TIME, "hardware power brake")
                            .withCause(Cause.POWER_BRAKE),
                    of("utilization", Metric.GPU_UTILIZATION, "").withResolution(0.01),
                    of("memory.usage", Metric.GPU_MEMORY_USAGE, ""),
                    of("performance-state", Metric.PERFORMANCE_STATE, "P-state"),
                    of("fan.speed-ratio", Metric.FAN_SPEED_RATIO, "as commanded")
                            .withResolution(0.01),
                    of("pcie.generation", Metric.PCIE_GENERATION, ""),
                    of("pcie.width", Metric.PCIE_WIDTH, ""),
                    of("pcie.replays", Metric.PCIE_REPLAYS, ""),
                    of("memory.errors.corrected", Metric.CORRECTED_ERRORS, "ECC, since the driver was loaded"),
                    of("memory.errors.uncorrected", Metric.HARDWARE_ERRORS, "ECC, since the driver was loaded"),
                    of("memory.rows.corrected", Metric.CORRECTED_ERRORS, "rows remapped, in its life"),
                    of("memory.rows.uncorrected", Metric.HARDWARE_ERRORS, "rows remapped, in its life"),
                    of("memory.pages.corrected", Metric.CORRECTED_ERRORS, "pages retired, in its life"),
                    of("memory.pages.uncorrected", Metric.HARDWARE_ERRORS, "pages retired, in its life"))
            .collect(Collectors.toUnmodifiableMap(Offer::name, o -> o));

    Offer {
        EnumMap<LimitType, Double> copy = new EnumMap<>(LimitType.class);
        copy.putAll(limits);
        limits = copy;
    }

    /** One of those that there are. */
    static Offer known(String name) {
        return requireNonNull(KNOWN.get(name), name);
    }

    static String flagName(Cause cause) {
        return "throttle." + cause.word() + ".active";
    }

    private static Offer flag(Cause cause) {
        return of(flagName(cause), Metric.THROTTLE_ACTIVE, "").withCause(cause);
    }

    private static Offer of(String name, Metric metric, String label) {
        return new Offer(name, metric, label, Optional.empty(), Double.NaN, Map.of());
    }

    private Offer withCause(Cause c) {
        return new Offer(name, metric, label, Optional.of(c), resolution, limits);
    }

    private Offer withResolution(double step) {
        return new Offer(name, metric, label, cause, step, limits);
    }

    Offer withLabel(String l) {
        return new Offer(name, metric, l, cause, resolution, limits);
    }

    Offer withLimits(Map<LimitType, Double> l) {
        return new Offer(name, metric, label, cause, resolution, l);
    }

    Channel channel(String prefix, Role role, String address, String source) {
        Channel channel = Channel.of(prefix + "." + name, metric, role, source)
                .withComponent(address, label)
                .withQuality(resolution, Double.NaN)
                .withLimits(limits);
        return cause.isPresent() ? channel.withCause(cause.get()) : channel;
    }

    /** One line of the protocol. */
    String toLine() {
        String l = limits.entrySet().stream()
                .map(e -> e.getKey().word() + "=" + e.getValue())
                .collect(Collectors.joining(","));
        return String.join("\t", "offer", name, label, l);
    }

    /** @throws Refused if that is not such a line */
    static Offer from(ServerLine line) throws Refused {
        Offer known = KNOWN.get(line.with(3).name(1));
        if (known == null) {
            throw line.refused();
        }
        Map<LimitType, Double> limits = new EnumMap<>(LimitType.class);
        for (String limit :
                line.text(3).isEmpty() ? new String[0] : line.text(3).split(",", -1)) {
            String[] typeAndValue = limit.split("=", -1);
            Optional<LimitType> type = LimitType.find(typeAndValue[0]);
            if (typeAndValue.length != 2 || type.isEmpty()) {
                throw line.refused();
            }
            limits.put(type.get(), line.number(typeAndValue[1]));
        }
        return known.withLabel(line.text(2)).withLimits(limits);
    }
}

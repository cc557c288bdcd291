// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelKind;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.Word;
import java.util.EnumMap;
import java.util.Locale;
import java.util.Map;
import java.util.Optional;

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
    private static final int PARTS = 8;

    Offer {
        requireNonNull(name, "name");
        requireNonNull(metric, "metric");
        requireNonNull(label, "label");
        requireNonNull(cause, "cause");
        EnumMap<LimitType, Double> copy = new EnumMap<>(LimitType.class);
        copy.putAll(limits);
        limits = copy;
    }

    static Offer of(String name, Metric metric, String label) {
        return new Offer(name, metric, label, Optional.empty(), Double.NaN, Map.of());
    }

    Offer withCause(Cause c) {
        return new Offer(name, metric, label, Optional.of(c), resolution, limits);
    }

    Offer withResolution(double step) {
        return new Offer(name, metric, label, cause, step, limits);
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
        StringBuilder l = new StringBuilder();
        limits.forEach((type, value) -> l.append(l.length() == 0 ? "" : ",")
                .append(type.word())
                .append('=')
                .append(value));
        return String.join(
                "\t",
                "offer",
                name,
                metric.name(),
                metric.unit(),
                metric.kind().name().toLowerCase(Locale.ROOT),
                label,
                cause.map(Cause::word).orElse("-"),
                resolution + (l.length() == 0 ? "" : "," + l));
    }

    /** @throws IllegalArgumentException if that is not such a line */
    static Offer fromLine(String line) {
        String[] p = line.split("\t", -1);
        if (p.length != PARTS || !p[0].equals("offer")) {
            throw new IllegalArgumentException("not an offer: " + line);
        }
        String[] numbers = p[7].split(",", -1);
        Map<LimitType, Double> limits = new EnumMap<>(LimitType.class);
        for (int i = 1; i < numbers.length; i++) {
            int equals = numbers[i].indexOf('=');
            limits.put(
                    LimitType.find(numbers[i].substring(0, equals)).orElseThrow(),
                    Double.valueOf(numbers[i].substring(equals + 1)));
        }
        return new Offer(
                p[1],
                new Metric(p[2], p[3], ChannelKind.valueOf(p[4].toUpperCase(Locale.ROOT))),
                p[5],
                p[6].equals("-") ? Optional.empty() : Word.find(Cause.class, p[6]),
                Double.parseDouble(numbers[0]),
                limits);
    }
}

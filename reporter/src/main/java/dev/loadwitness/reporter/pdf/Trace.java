// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import dev.loadwitness.reporter.scan.Series;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Metric;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;
import java.util.Locale;
import java.util.Map;

/** One channel as one line of a chart, over all stretches between restarts. */
record Trace(Quantity quantity, String label, List<Series> series, double scale) {
    Trace {
        series = List.copyOf(series);
    }

    static Trace of(Quantity quantity, List<Series> series) {
        Channel channel = series.get(0).channel();
        String label = Words.role(channel.role()) + what(channel.metric());
        if (!channel.label().isBlank()) {
            label += " (" + channel.label() + ")";
        }
        double scale = quantity.scale(series);
        if (quantity == Quantity.LOAD) {
            label += ", 100 % = " + rate(100 / scale) + " a second";
        }
        return new Trace(quantity, label, series, scale);
    }

    private static String rate(double unitsPerSecond) {
        if (unitsPerSecond >= 1e9) {
            return String.format(Locale.ROOT, "%.2f billion units", unitsPerSecond / 1e9);
        }
        if (unitsPerSecond >= 1e6) {
            return String.format(Locale.ROOT, "%.2f million units", unitsPerSecond / 1e6);
        }
        return String.format(Locale.ROOT, "%.1f units", unitsPerSecond);
    }

    private static String what(Metric metric) {
        if (metric.name().equals(Metric.POWER_LIMIT.name())) {
            return " limit in force";
        }
        return metric.name().equals(Metric.GPU_MEMORY_CLOCK.name()) ? " memory" : "";
    }

    boolean isLimit() {
        return series.get(0).channel().metric().name().equals(Metric.POWER_LIMIT.name());
    }

    boolean hasReadings() {
        return series.stream()
                .anyMatch(s -> s.binSeconds() > 0 && Arrays.stream(s.mean()).anyMatch(Double::isFinite));
    }

    /** What the device says about itself and belongs on this chart: {@code 97 °C: slows itself down}. */
    List<Limit> limits() {
        List<Limit> limits = new ArrayList<>();
        if (quantity == Quantity.TEMPERATURE || quantity == Quantity.POWER) {
            Channel channel = series.get(0).channel();
            for (Map.Entry<LimitType, Double> limit : channel.limits().entrySet()) {
                if (Double.isFinite(limit.getValue())) {
                    limits.add(new Limit(
                            limit.getValue() * scale, Words.role(channel.role()) + " " + says(limit.getKey())));
                }
            }
        }
        return limits;
    }

    private static String says(LimitType type) {
        return switch (type) {
            case HIGH_CRITICAL -> "switches off";
            case HIGH_DEGRADED -> "too high for its maker";
            case THROTTLED -> "slows itself down";
            case MAX -> "highest it is made for";
            case LOW_DEGRADED -> "too low for its maker";
            case LOW_CRITICAL -> "lowest possible";
        };
    }

    /** A level line of a chart, in the chart's unit. */
    record Limit(double value, String text) {}
}

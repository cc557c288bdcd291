// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import dev.loadwitness.reporter.scan.series.Series;
import dev.loadwitness.runlog.Metric;
import java.util.Arrays;
import java.util.List;
import java.util.Locale;
import java.util.Optional;

/** The charts there are, in order, and which metrics each shows. A metric named nowhere here is not drawn. */
enum Quantity {
    TEMPERATURE("°C", 1, List.of(Metric.TEMPERATURE)),
    CLOCK("GHz", 1e-9, List.of(Metric.CPU_CLOCK, Metric.GPU_CLOCK, Metric.GPU_MEMORY_CLOCK)),
    POWER("W", 1, List.of(Metric.POWER, Metric.ENERGY, Metric.POWER_LIMIT, Metric.BATTERY_POWER)),
    /** Units of work differ from load to load, so each is drawn as a share of its own highest rate. */
    LOAD("", Double.NaN, List.of(Metric.WORK_VERIFIED));

    private final String unit;
    private final double scale;
    private final List<Metric> metrics;

    Quantity(String unit, double scale, List<Metric> metrics) {
        this.unit = unit;
        this.scale = scale;
        this.metrics = metrics;
    }

    String title(Words words) {
        return words.text("chart." + name().toLowerCase(Locale.ROOT));
    }

    String unit(Words words) {
        return this == LOAD ? words.text("chart.load.unit") : unit;
    }

    /** For titles with little room. */
    String shortUnit(Words words) {
        return this == LOAD ? words.text("chart.load.unit.short") : unit;
    }

    static Optional<Quantity> of(Metric metric) {
        return Arrays.stream(values())
                .filter(q -> q.metrics.stream().anyMatch(m -> m.name().equals(metric.name())))
                .findFirst();
    }

    /** From the channel's unit to the chart's. */
    double scale(List<Series> channel) {
        if (this != LOAD) {
            return scale;
        }
        double highest = channel.stream()
                .flatMapToDouble(s -> Arrays.stream(s.mean()))
                .filter(Double::isFinite)
                .max()
                .orElse(0);
        return highest > 0 ? 100 / highest : 1;
    }
}

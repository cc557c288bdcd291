// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.chart;

import dev.loadwitness.reporter.chart.PrintedChart;
import dev.loadwitness.reporter.pdf.paper.Words;
import dev.loadwitness.reporter.scan.series.Series;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Metric;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Optional;
import java.util.stream.Stream;

/** One channel as one line of a chart, over all stretches between restarts. */
public record Trace(PrintedChart quantity, List<Series> series, double scale) {
    public Trace {
        series = List.copyOf(series);
    }

    public static Trace of(PrintedChart quantity, List<Series> series) {
        double highest = series.stream()
                .flatMapToDouble(s -> Arrays.stream(s.mean()))
                .filter(Double::isFinite)
                .max()
                .orElse(0);
        return new Trace(quantity, series, quantity.scale(highest));
    }

    public Channel channel() {
        return series.get(0).channel();
    }

    /** Part, and the driver's own label. */
    String label(Words words) {
        String label = shortLabel(words);
        if (!channel().label().isBlank()) {
            label += " (" + channel().label() + ")";
        }
        return quantity == PrintedChart.LOAD ? words.text("chart.load.full", label, rate(words, 100 / scale)) : label;
    }

    /** Part, and what of it where a chart shows several things. */
    String shortLabel(Words words) {
        String part = words.role(channel().role());
        if (isLimit()) {
            return words.text("chart.limit-in-force", part);
        }
        return channel().measures(Metric.GPU_MEMORY_CLOCK) ? words.text("chart.memory", part) : part;
    }

    private static String rate(Words words, double unitsPerSecond) {
        if (unitsPerSecond >= 1e9) {
            return words.text("chart.rate.billion", fixed(words, "%.2f", unitsPerSecond / 1e9));
        }
        if (unitsPerSecond >= 1e6) {
            return words.text("chart.rate.million", fixed(words, "%.2f", unitsPerSecond / 1e6));
        }
        return words.text("chart.rate.units", fixed(words, "%,.1f", unitsPerSecond));
    }

    private static String fixed(Words words, String format, double value) {
        return words.figures(String.format(Locale.ROOT, format, value));
    }

    public boolean isLimit() {
        return channel().measures(Metric.POWER_LIMIT);
    }

    public boolean hasReadings() {
        return series.stream()
                .anyMatch(s -> s.binSeconds() > 0 && Arrays.stream(s.mean()).anyMatch(Double::isFinite));
    }

    /** Where the part would slow itself down, else switch itself off, in few words: {@code Discrete GPU slows down: 89 °C}. */
    Optional<Limit> slowdown(Words words) {
        return quantity != PrintedChart.TEMPERATURE
                ? Optional.empty()
                : Stream.of(LimitType.THROTTLED, LimitType.HIGH_CRITICAL)
                        .filter(type -> channel().limit(type).isPresent())
                        .findFirst()
                        .map(type -> {
                            double value = channel().limit(type).orElseThrow() * scale;
                            return new Limit(
                                    value,
                                    words.text(
                                            "limit.short." + type.word(),
                                            words.role(channel().role()),
                                            words.number(value, words.unit(quantity))));
                        });
    }

    /** What the device says about itself and belongs on this chart: {@code 97 °C: slows itself down}. */
    List<Limit> limits(Words words) {
        List<Limit> limits = new ArrayList<>();
        if (quantity == PrintedChart.TEMPERATURE || quantity == PrintedChart.POWER) {
            for (Map.Entry<LimitType, Double> limit : channel().limits().entrySet()) {
                if (Double.isFinite(limit.getValue())) {
                    limits.add(new Limit(
                            limit.getValue() * scale,
                            words.text(
                                    "limit." + limit.getKey().word(),
                                    words.role(channel().role()))));
                }
            }
        }
        return limits;
    }

    /** With at most so many bins, made of whole ones; a bin is empty only if all of its parts are. */
    static Series thinned(Series series, int mostBins) {
        int bins = series.mean().length;
        int by = (bins + mostBins - 1) / mostBins;
        if (by <= 1) {
            return series;
        }
        int count = (bins + by - 1) / by;
        double[] low = new double[count];
        double[] mean = new double[count];
        double[] high = new double[count];
        for (int i = 0; i < count; i++) {
            int from = i * by;
            int to = Math.min(bins, from + by);
            low[i] = Arrays.stream(series.lowest(), from, to)
                    .filter(Double::isFinite)
                    .min()
                    .orElse(Double.NaN);
            mean[i] = Arrays.stream(series.mean(), from, to)
                    .filter(Double::isFinite)
                    .average()
                    .orElse(Double.NaN);
            high[i] = Arrays.stream(series.highest(), from, to)
                    .filter(Double::isFinite)
                    .max()
                    .orElse(Double.NaN);
        }
        return new Series(
                series.channel(), series.segment(), series.startSeconds(), by * series.binSeconds(), low, mean, high);
    }

    /** A level line of a chart, in the chart's unit. */
    record Limit(double value, String text) {}
}

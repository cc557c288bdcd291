// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.chart;

import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import java.util.Arrays;
import java.util.List;
import java.util.Locale;

/**
 * Which channels are drawn together, named how, in which unit; in the review page's order, from the top down. Every channel has
 * a place in one of them. Of these {@link PrintedChart} takes what the report shows.
 */
public enum ChartGroup {
    TEMPERATURE("Temperature", "°C", 1, false, List.of(Metric.TEMPERATURE)),
    POWER(
            "Power",
            "W",
            1,
            true,
            List.of(
                    Metric.POWER,
                    Metric.POWER_LIMIT,
                    Metric.ENERGY,
                    Metric.POWER_HIGHEST,
                    Metric.POWER_LOWEST,
                    Metric.BATTERY_POWER)),
    CLOCK("Clock", "MHz", 1e-6, true, List.of(Metric.GPU_CLOCK, Metric.CPU_CLOCK, Metric.GPU_MEMORY_CLOCK)),
    FAN("Fans", "rpm", 1, true, List.of(Metric.FAN_SPEED)),
    /** Units of work differ from load to load, so each is drawn as a share of its own highest rate. */
    WORK("Verified work", "% of its own highest rate", Double.NaN, true, List.of(Metric.WORK_VERIFIED)),
    UTILIZATION(
            "Utilization",
            "%",
            100,
            true,
            List.of(Metric.GPU_UTILIZATION, Metric.CPU_UTILIZATION, Metric.FAN_SPEED_RATIO)),
    CHARGE(
            "Charge",
            "%",
            100,
            false,
            List.of(Metric.BATTERY_CHARGE, Metric.BATTERY_CHARGE_START, Metric.BATTERY_CHARGE_END)),
    /** One lane for each channel: up while it says yes, or while its counter grows. */
    STATES(
            "Throttling, supply and errors",
            "one lane each",
            1,
            true,
            List.of(
                    Metric.THROTTLE_ACTIVE,
                    Metric.THROTTLE_TIME,
                    Metric.THROTTLE_COUNT,
                    Metric.ADAPTER_ONLINE,
                    Metric.BATTERY_STATE,
                    Metric.WORK_ERRORS,
                    Metric.HARDWARE_ERRORS,
                    Metric.CORRECTED_ERRORS,
                    Metric.PCIE_REPLAYS,
                    Metric.DEVICE_AWAKE)),
    VOLTAGE("Voltage", "V", 1, false, List.of(Metric.VOLTAGE)),
    MEMORY("Graphics memory in use", "GiB", 1.0 / (1 << 30), true, List.of(Metric.GPU_MEMORY_USAGE)),
    BUS(
            "Bus and performance state",
            "number",
            1,
            true,
            List.of(Metric.PERFORMANCE_STATE, Metric.PCIE_GENERATION, Metric.PCIE_WIDTH)),
    LATENESS("Lateness of samples", "ms", 1000, true, List.of(Metric.SAMPLE_LATENESS)),
    OTHER("Other channels", "each in its own unit", 1, false, List.of());

    private final String title;
    private final String unit;
    private final boolean fromZero;
    private final double scale;
    private final List<Metric> metrics;

    ChartGroup(String title, String unit, double scale, boolean fromZero, List<Metric> metrics) {
        this.title = title;
        this.unit = unit;
        this.scale = scale;
        this.fromZero = fromZero;
        this.metrics = metrics;
    }

    /** Heading of the chart. */
    public String title() {
        return title;
    }

    /** For people. */
    public String unit() {
        return unit;
    }

    /** Whether the axis of values begins at zero at the latest. */
    public boolean fromZero() {
        return fromZero;
    }

    /** The one that a channel is drawn in. */
    public static ChartGroup of(Channel channel) {
        return of(channel.metric());
    }

    /** The one that channels of this metric are drawn in. */
    public static ChartGroup of(Metric metric) {
        return Arrays.stream(values())
                .filter(q -> q.metrics.stream().anyMatch(m -> m.name().equals(metric.name())))
                .findFirst()
                .orElse(OTHER);
    }

    /**
     * From the channel's unit, or its rate a second, to the chart's.
     *
     * @param highest of the channel's readings, or of its rate
     */
    public double scale(double highest) {
        if (this == WORK) {
            return highest > 0 ? 100 / highest : 1;
        }
        return scale;
    }

    /** As markup and script name it. */
    public String key() {
        return name().toLowerCase(Locale.ROOT);
    }
}

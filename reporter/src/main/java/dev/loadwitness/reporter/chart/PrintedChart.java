// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.chart;

import dev.loadwitness.runlog.Metric;
import java.util.Arrays;
import java.util.List;
import java.util.Optional;

/** The charts of the report, in order. Where it shows less than the review page, or in another unit, is said here. */
public enum PrintedChart {
    TEMPERATURE(ChartGroup.TEMPERATURE),
    /** In gigahertz: the narrow axis has room for few digits. The page has megahertz. */
    CLOCK(ChartGroup.CLOCK),
    POWER(ChartGroup.POWER),
    /** Its unit is a word that is translated. */
    LOAD(ChartGroup.WORK);

    /** The page draws them beside the power that they belong to; on paper they would hide it. */
    private static final List<Metric> LEFT_OUT = List.of(Metric.POWER_HIGHEST, Metric.POWER_LOWEST);

    private final ChartGroup group;

    PrintedChart(ChartGroup group) {
        this.group = group;
    }

    /** The one that channels of this metric are drawn in; nothing for what the report does not draw. */
    public static Optional<PrintedChart> of(Metric metric) {
        ChartGroup group = ChartGroup.of(metric);
        return Arrays.stream(values())
                .filter(c -> c.group == group)
                .filter(c -> LEFT_OUT.stream().noneMatch(m -> m.name().equals(metric.name())))
                .findFirst();
    }

    /** For people; that of {@link #LOAD} is for who writes the words. */
    public String unit() {
        return this == CLOCK ? "GHz" : group.unit();
    }

    /**
     * From the channel's unit, or its rate a second, to the chart's.
     *
     * @param highest of the channel's drawn readings, or of its rate
     */
    public double scale(double highest) {
        return this == CLOCK ? 1e-9 : group.scale(highest);
    }
}

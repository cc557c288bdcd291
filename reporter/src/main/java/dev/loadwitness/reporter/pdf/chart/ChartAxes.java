// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.chart;

import dev.loadwitness.reporter.chart.PrintedChart;
import dev.loadwitness.reporter.pdf.paper.Ink;
import dev.loadwitness.reporter.pdf.paper.Words;
import dev.loadwitness.reporter.scan.series.Series;
import java.text.DecimalFormat;
import java.text.DecimalFormatSymbols;
import java.text.NumberFormat;
import java.util.List;
import java.util.Locale;
import java.util.Set;
import org.jfree.chart.axis.NumberAxis;
import org.jfree.chart.axis.NumberTickUnitSource;
import org.jfree.chart.ui.RectangleInsets;
import org.jfree.data.Range;

/** The axes of a chart, with numbers as the report's language writes them. */
final class ChartAxes {
    private ChartAxes() {}

    static NumberAxis of(ChartType type, Words words, String label) {
        NumberAxis axis = new NumberAxis(label.isEmpty() ? null : label);
        axis.setTickLabelFont(type.plain());
        axis.setLabelFont(type.plain());
        axis.setTickLabelPaint(Ink.QUIET);
        axis.setLabelPaint(Ink.QUIET);
        axis.setAxisLinePaint(Ink.HAIRLINE);
        axis.setTickMarkPaint(Ink.HAIRLINE);
        axis.setLabelInsets(new RectangleInsets(1, 0, 1, 0));
        DecimalFormatSymbols symbols = DecimalFormatSymbols.getInstance(Locale.ROOT);
        symbols.setDecimalSeparator(words.decimalSign());
        NumberFormat format = new DecimalFormat("0.###", symbols);
        axis.setNumberFormatOverride(format);
        // The default source formats by the default locale.
        axis.setStandardTickUnits(new NumberTickUnitSource(false, format));
        return axis;
    }

    /**
     * All readings and limits, from zero except for temperatures; a little air above.
     *
     * @param namedOn height of a plot where the name of a limit stands above its line; 0 where none does
     */
    static Range range(PrintedChart quantity, List<Trace> traces, Set<Double> limits, float namedOn) {
        double low = quantity == PrintedChart.TEMPERATURE ? Double.POSITIVE_INFINITY : 0;
        double high = quantity == PrintedChart.TEMPERATURE ? Double.NEGATIVE_INFINITY : 0;
        for (Trace trace : traces) {
            for (Series series : trace.series()) {
                for (double[] values : List.of(series.lowest(), series.mean(), series.highest())) {
                    for (double value : values) {
                        if (Double.isFinite(value * trace.scale())) {
                            low = Math.min(low, value * trace.scale());
                            high = Math.max(high, value * trace.scale());
                        }
                    }
                }
            }
        }
        for (double limit : limits) {
            low = Math.min(low, limit);
            high = Math.max(high, limit);
        }
        if (!(low < high)) {
            low = Double.isFinite(low) ? low - 1 : 0;
            high = low + 2;
        }
        double air = (high - low) * 0.06;
        double above = namedOn > 0 && !limits.isEmpty()
                ? (high - low) * ChartLimits.NAME_HEIGHT / (namedOn - ChartLimits.NAME_HEIGHT - 20)
                : air;
        return new Range(low == 0 ? 0 : low - air, high + above);
    }
}

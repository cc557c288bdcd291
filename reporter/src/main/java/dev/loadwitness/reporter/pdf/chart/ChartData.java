// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.chart;

import dev.loadwitness.reporter.scan.series.Series;
import java.util.ArrayList;
import java.util.List;
import org.jfree.chart.renderer.xy.DeviationRenderer;
import org.jfree.data.xy.YIntervalSeries;
import org.jfree.data.xy.YIntervalSeriesCollection;

/** The readings of one stretch as JFreeChart takes them, each line with its pen. */
final class ChartData {
    final YIntervalSeriesCollection lines = new YIntervalSeriesCollection();
    final DeviationRenderer renderer = new DeviationRenderer(true, false);

    /**
     * @param bands show lowest and highest around each line
     * @param bins at most so many points a line
     */
    ChartData(List<Trace> traces, int segment, boolean bands, int bins) {
        renderer.setAlpha(1);
        for (int t = 0; t < traces.size(); t++) {
            Trace trace = traces.get(t);
            for (Series series : trace.series()) {
                if (series.segment() == segment) {
                    for (YIntervalSeries run : runs(series, trace.scale(), bands, lines.getSeriesCount(), bins)) {
                        int index = lines.getSeriesCount();
                        lines.addSeries(run);
                        renderer.setSeriesPaint(index, ChartPens.color(t));
                        renderer.setSeriesStroke(index, ChartPens.stroke(trace, t));
                        renderer.setSeriesFillPaint(index, ChartPens.pale(ChartPens.color(t)));
                    }
                }
            }
        }
    }

    /** Readings between two gaps, each run for itself: nothing is drawn where nothing was read. */
    private static List<YIntervalSeries> runs(Series whole, double scale, boolean band, int firstName, int bins) {
        Series series = Trace.thinned(whole, bins);
        List<YIntervalSeries> runs = new ArrayList<>();
        YIntervalSeries run = null;
        for (int i = 0; i < series.mean().length; i++) {
            double mean = series.mean()[i] * scale;
            if (!Double.isFinite(mean)) {
                run = null;
                continue;
            }
            if (run == null) {
                run = new YIntervalSeries(firstName + runs.size(), false, true);
                runs.add(run);
            }
            double minutes = (series.startSeconds() + (i + 0.5) * series.binSeconds()) / 60;
            double low = band ? finite(series.lowest(), i, scale, mean) : mean;
            double high = band ? finite(series.highest(), i, scale, mean) : mean;
            run.add(minutes, mean, low, high);
        }
        return runs;
    }

    private static double finite(double[] values, int i, double scale, double otherwise) {
        return i < values.length && Double.isFinite(values[i]) ? values[i] * scale : otherwise;
    }
}

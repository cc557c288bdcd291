// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.chart;

import com.lowagie.text.pdf.PdfContentByte;
import com.lowagie.text.pdf.PdfGraphics2D;
import com.lowagie.text.pdf.PdfTemplate;
import com.lowagie.text.pdf.PdfWriter;
import dev.loadwitness.reporter.chart.PrintedChart;
import dev.loadwitness.reporter.pdf.paper.Ink;
import dev.loadwitness.reporter.pdf.paper.Typeface;
import dev.loadwitness.reporter.pdf.paper.Words;
import java.awt.BasicStroke;
import java.awt.Graphics2D;
import java.awt.geom.Rectangle2D;
import java.util.List;
import org.jfree.chart.ChartRenderingInfo;
import org.jfree.chart.JFreeChart;
import org.jfree.chart.axis.AxisLocation;
import org.jfree.chart.axis.NumberAxis;
import org.jfree.chart.plot.CombinedRangeXYPlot;
import org.jfree.chart.plot.XYPlot;
import org.jfree.chart.ui.RectangleInsets;

/** One chart as vectors and text: lines over stage bands, with a numbered key beside it. */
public final class Chart {
    /** More lines than this in one chart cannot be told apart, in grey least of all. */
    public static final int LINES = 6;

    public static final float PLOT_HEIGHT = 112;

    private static final float TITLE = 15;
    private static final float SMALL_TITLE = 7.4f;
    private static final float NARROW = 190;

    private final ChartType type;
    private final Words words;
    private final boolean small;
    private final float plotHeight;
    private final PrintedChart quantity;
    private final String title;
    private final ChartLines lines;
    private final ChartLimits limits;
    private final ChartKey key;
    private final Timeline time;
    private final float width;

    private Chart(
            ChartType type,
            Words words,
            PrintedChart quantity,
            String title,
            ChartLines lines,
            Timeline time,
            float width,
            float plotHeight,
            boolean small) {
        this.type = type;
        this.words = words;
        this.quantity = quantity;
        this.title = title;
        this.lines = lines;
        this.time = time;
        this.width = width;
        this.plotHeight = plotHeight;
        this.small = small;
        this.limits = small
                ? ChartLimits.nearest(type, words, lines.traces(), width)
                : ChartLimits.all(type, words, lines.traces());
        this.key = new ChartKey(type, words, quantity, lines.traces(), limits.named());
    }

    /** With stages, events and a key: for the file. */
    public static Chart full(
            Typeface type,
            Words words,
            PrintedChart quantity,
            String title,
            List<Trace> traces,
            Timeline time,
            float width) {
        ChartType letters = ChartType.of(type);
        return new Chart(
                letters, words, quantity, title, new ChartLines(letters, traces), time, width, PLOT_HEIGHT, false);
    }

    /** With the few lines that matter most, each named above; a line whose name has no room is not drawn. */
    public static Chart small(
            Typeface type,
            Words words,
            PrintedChart quantity,
            List<Trace> traces,
            Timeline time,
            float width,
            float plotHeight) {
        ChartType letters = ChartType.of(type);
        double room = width - (width < NARROW ? 0 : headingWidth(type, words, quantity));
        return new Chart(
                letters,
                words,
                quantity,
                words.title(quantity),
                ChartLines.named(letters, words, traces, room),
                time,
                width,
                plotHeight,
                true);
    }

    /**
     * As a form of the document, to be placed as one piece.
     *
     * @param outlineOnly leave it empty: enough to find out what has room on which page, and drawing is what costs
     */
    public PdfTemplate draw(PdfWriter writer, boolean outlineOnly) {
        float keyHeight = key.height() + TITLE + 6;
        float height =
                small ? titleHeight() + plotHeight : Math.max(TITLE + 2 * ChartTime.STRIP + plotHeight, keyHeight);
        PdfContentByte canvas = writer.getDirectContent();
        PdfTemplate template = canvas.createTemplate(width, height);
        if (outlineOnly) {
            return template;
        }
        PdfGraphics2D graphics =
                new PdfGraphics2D(template, width, height, type.face().mapper(), false, false, 0);
        try {
            draw(graphics, height);
        } finally {
            graphics.dispose();
        }
        return template;
    }

    private void draw(Graphics2D graphics, float height) {
        title(graphics);
        NumberAxis range = ChartAxes.of(type, words, "");
        range.setRange(ChartAxes.range(quantity, lines.traces(), limits.named().keySet(), small ? plotHeight : 0));
        List<Integer> segments = time.drawn();
        JFreeChart chart = new JFreeChart(null, null, plots(segments, range), false);
        chart.setBackgroundPaint(null);
        chart.setBorderVisible(false);
        chart.setPadding(new RectangleInsets(4, 0, 0, 4));
        ChartRenderingInfo info = new ChartRenderingInfo();
        float top = small ? titleHeight() - 5 : TITLE + 2 * ChartTime.STRIP - 4;
        chart.draw(
                graphics,
                new Rectangle2D.Double(0, top, width - keyWidth(), Math.min(height - top, 1.5 * plotHeight)),
                null,
                info);
        for (int i = 0; i < segments.size(); i++) {
            Rectangle2D area = info.getPlotInfo().getSubplotInfo(i).getDataArea();
            ChartTime stretch = new ChartTime(type, time, segments.get(i));
            if (small) {
                stretch.uprights(graphics, area, -1);
                if (i == segments.size() - 1) {
                    limits.names(graphics, area, range);
                }
            } else {
                stretch.strips(graphics, area, width - keyWidth() + 8);
                lines.numbers(graphics, stretch, segments.get(i), area, range);
                if (i == 0) {
                    limits.letters(graphics, area, range);
                }
            }
        }
        if (!small) {
            key.draw(graphics, width - keyWidth() + 12, TITLE + 6);
        }
    }

    private void title(Graphics2D graphics) {
        graphics.setFont(type.face().chartBold(small ? SMALL_TITLE : 8.6f));
        graphics.setColor(Ink.TEXT);
        graphics.drawString(small ? heading(words, quantity) : title + ", " + words.unit(quantity), 0, 9);
        if (small) {
            float from = isNarrow() ? 0 : headingWidth(type.face(), words, quantity);
            lines.names(graphics, words, from, isNarrow() ? 18 : 9);
        }
    }

    /** One beside the other for each stretch, with one axis of values. */
    private CombinedRangeXYPlot plots(List<Integer> segments, NumberAxis range) {
        CombinedRangeXYPlot combined = new CombinedRangeXYPlot(range);
        combined.setGap(14);
        double longest = segments.stream().mapToDouble(time::minutes).max().orElse(1);
        for (int segment : segments) {
            // No stretch gets so little room that its axis cannot be read.
            double share = Math.max(time.minutes(segment) / longest, 0.25);
            combined.add(plot(segment), (int) Math.round(share * 100));
        }
        combined.setInsets(RectangleInsets.ZERO_INSETS);
        combined.setRangeAxisLocation(AxisLocation.BOTTOM_OR_LEFT);
        return combined;
    }

    private XYPlot plot(int segment) {
        String minutes = words.text("course.minutes");
        String named = words.text("course.stretch.minutes", Timeline.stretch(words, segment));
        // Side by side in a small chart the names of stretches would run into each other.
        NumberAxis domain = ChartAxes.of(type, words, time.segments() == 1 ? minutes : small ? "" : named);
        domain.setRange(0, time.minutes(segment));
        boolean bands = !small && lines.traces().size() <= 2;
        // Two to a point of paper: finer could not be seen, and would make the file heavy.
        int bins = (int) (2 * (width - keyWidth()));
        ChartData data = new ChartData(lines.traces(), segment, bands, bins);
        ChartTime stretch = new ChartTime(type, time, segment);
        XYPlot plot = new XYPlot(data.lines, domain, null, data.renderer) {
            @Override
            public void drawBackground(Graphics2D graphics, Rectangle2D area) {
                // As interval markers the bands would lie on the grid.
                stretch.bands(graphics, area);
            }
        };
        plot.setOutlinePaint(Ink.HAIRLINE);
        plot.setDomainGridlinesVisible(false);
        plot.setRangeGridlinePaint(Ink.HAIRLINE);
        plot.setRangeGridlineStroke(new BasicStroke(0.3f));
        limits.addTo(plot);
        return plot;
    }

    private float keyWidth() {
        return small ? 0 : ChartKey.WIDTH;
    }

    /** In a narrow chart the names of the lines have a line of their own. */
    private boolean isNarrow() {
        return width < NARROW;
    }

    private float titleHeight() {
        return isNarrow() ? TITLE + 9 : TITLE;
    }

    private static String heading(Words words, PrintedChart quantity) {
        return words.title(quantity) + ", " + words.shortUnit(quantity);
    }

    /** With the gap behind it. */
    private static float headingWidth(Typeface type, Words words, PrintedChart quantity) {
        return type.bold.getWidthPoint(heading(words, quantity), SMALL_TITLE) + 8;
    }
}

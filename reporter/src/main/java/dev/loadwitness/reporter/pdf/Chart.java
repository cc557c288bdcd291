// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import com.lowagie.text.pdf.PdfContentByte;
import com.lowagie.text.pdf.PdfGraphics2D;
import com.lowagie.text.pdf.PdfTemplate;
import com.lowagie.text.pdf.PdfWriter;
import dev.loadwitness.reporter.scan.series.Series;
import dev.loadwitness.reporter.scan.stage.StageSpan;
import java.awt.BasicStroke;
import java.awt.Color;
import java.awt.Font;
import java.awt.Graphics2D;
import java.awt.Stroke;
import java.awt.geom.Line2D;
import java.awt.geom.Rectangle2D;
import java.text.DecimalFormat;
import java.text.DecimalFormatSymbols;
import java.text.NumberFormat;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.stream.Collectors;
import org.jfree.chart.ChartRenderingInfo;
import org.jfree.chart.JFreeChart;
import org.jfree.chart.axis.AxisLocation;
import org.jfree.chart.axis.NumberAxis;
import org.jfree.chart.axis.NumberTickUnitSource;
import org.jfree.chart.plot.CombinedRangeXYPlot;
import org.jfree.chart.plot.ValueMarker;
import org.jfree.chart.plot.XYPlot;
import org.jfree.chart.renderer.xy.DeviationRenderer;
import org.jfree.chart.ui.Layer;
import org.jfree.chart.ui.RectangleEdge;
import org.jfree.chart.ui.RectangleInsets;
import org.jfree.data.Range;
import org.jfree.data.xy.YIntervalSeries;
import org.jfree.data.xy.YIntervalSeriesCollection;

/** One chart as vectors and text: lines over stage bands, with a numbered key beside it. */
final class Chart {
    /** More lines than this in one chart cannot be told apart, in grey least of all. */
    static final int LINES = 6;

    /** Okabe and Ito's palette without its yellow, darkened where white paper needs it; dashes tell them apart in grey. */
    private static final Color[] COLORS = {
        new Color(0x0072B2),
        new Color(0xC04E00),
        new Color(0x00795A),
        new Color(0xA8518A),
        new Color(0x2A2A2A),
        new Color(0x8A6D00)
    };

    private static final float[][] DASHES = {null, {6, 2}, {2, 2}, {8, 2, 2, 2}, {4, 4}, {1, 3}};
    /** Limits lie close together: letter and dashes tell which is which, also in grey. */
    private static final float[][] LIMIT_DASHES = {{9, 3, 1.5f, 3}, {5, 2}, {1.5f, 2}, {9, 2, 1.5f, 2, 1.5f, 2}};

    private static final Stroke MARK =
            new BasicStroke(0.5f, BasicStroke.CAP_BUTT, BasicStroke.JOIN_MITER, 10, new float[] {1.2f, 1.6f}, 0);
    private static final float KEY_WIDTH = 126;
    private static final int MARKS_DRAWN_THROUGH = 40;
    private static final float STRIP = 11;
    private static final float TITLE = 15;
    private static final float KEY_LINE = 8.4f;
    static final float PLOT_HEIGHT = 112;
    private static final float SMALL_TITLE = 7.4f;
    /** A piece of a line in front of its name. */
    private static final float SAMPLE = 14;

    private static final float NARROW = 190;
    private static final float NAME_HEIGHT = 9;
    private static final float NAME = 6;
    /** Of a chart's width, for the numbers at its axis. */
    private static final float AXIS_ROOM = 24;

    private final Typeface type;
    private final Words words;
    private final boolean small;
    private final float plotHeight;
    private final float keyWidth;
    private final Quantity quantity;
    private final String title;
    private final List<Trace> traces;
    private final Map<Double, String> limits;
    private final Timeline time;
    private final float width;
    private final Font plain;
    private final Font bold;
    private final List<KeyEntry> key = new ArrayList<>();

    private Chart(
            Typeface type,
            Words words,
            Quantity quantity,
            String title,
            List<Trace> traces,
            Timeline time,
            float width,
            float plotHeight,
            boolean small) {
        this.type = type;
        this.words = words;
        this.quantity = quantity;
        this.title = title;
        this.traces = traces;
        this.time = time;
        this.width = width;
        this.plotHeight = plotHeight;
        this.small = small;
        this.keyWidth = small ? 0 : KEY_WIDTH;
        this.plain = type.chart(6.6f);
        this.bold = type.chartBold(6.6f);
        this.limits = small ? nearest() : all();
        for (int i = 0; i < traces.size(); i++) {
            key.add(new KeyEntry(
                    Integer.toString(i + 1),
                    stroke(i),
                    color(i),
                    wrapped(traces.get(i).label(words), 3)));
        }
        int place = 0;
        for (Map.Entry<Double, String> limit : limits.entrySet()) {
            String level = words.number(limit.getKey(), quantity.unit(words));
            key.add(new KeyEntry(
                    letter(place),
                    limitStroke(place),
                    Ink.LIMIT,
                    wrapped(words.text("limit.line", level, limit.getValue()), 3)));
            place++;
        }
    }

    private Map<Double, String> all() {
        return traces.stream()
                .flatMap(t -> t.limits(words).stream())
                .sorted(Comparator.comparingDouble(Trace.Limit::value).reversed())
                .collect(Collectors.groupingBy(
                        Trace.Limit::value,
                        LinkedHashMap::new,
                        Collectors.mapping(
                                Trace.Limit::text,
                                Collectors.collectingAndThen(
                                        Collectors.toList(),
                                        texts -> texts.stream().distinct().collect(Collectors.joining("; "))))));
    }

    /** Where the first line's part would hold itself back: the one limit whose name has room on its line. */
    private Map<Double, String> nearest() {
        return traces.stream()
                .limit(1)
                .flatMap(t -> t.slowdown(words).stream())
                .map(limit -> Map.entry(limit.value(), type.clean(limit.text())))
                .filter(limit -> type.regular.getWidthPoint(limit.getValue(), NAME) < width - AXIS_ROOM)
                .collect(Collectors.toMap(Map.Entry::getKey, Map.Entry::getValue));
    }

    /** With stages, events and a key: for the file. */
    static Chart full(
            Typeface type,
            Words words,
            Quantity quantity,
            String title,
            List<Trace> traces,
            Timeline time,
            float width) {
        return new Chart(type, words, quantity, title, traces, time, width, PLOT_HEIGHT, false);
    }

    /** With the few lines that matter most, each named above; a line whose name has no room is not drawn. */
    static Chart small(
            Typeface type,
            Words words,
            Quantity quantity,
            List<Trace> traces,
            Timeline time,
            float width,
            float plotHeight) {
        return new Chart(
                type,
                words,
                quantity,
                quantity.title(words),
                named(type, words, quantity, traces, width),
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
    PdfTemplate draw(PdfWriter writer, boolean outlineOnly) {
        float keyHeight = (float) key.stream().mapToDouble(k -> k.height()).sum() + TITLE + 6;
        float height = small ? titleHeight() + plotHeight : Math.max(TITLE + 2 * STRIP + plotHeight, keyHeight);
        PdfContentByte canvas = writer.getDirectContent();
        PdfTemplate template = canvas.createTemplate(width, height);
        if (outlineOnly) {
            return template;
        }
        PdfGraphics2D graphics = new PdfGraphics2D(template, width, height, type.mapper(), false, false, 0);
        try {
            draw(graphics, height);
        } finally {
            graphics.dispose();
        }
        return template;
    }

    private void draw(Graphics2D graphics, float height) {
        String heading = small ? heading(words, quantity) : title + ", " + quantity.unit(words);
        float size = small ? SMALL_TITLE : 8.6f;
        graphics.setFont(type.chartBold(size));
        graphics.setColor(Ink.TEXT);
        graphics.drawString(heading, 0, 9);
        if (small) {
            float from = isNarrow() ? 0 : type.bold.getWidthPoint(heading, size) + 8;
            names(graphics, from, isNarrow() ? 18 : 9);
        }

        NumberAxis range = axis("");
        range.setRange(range());
        CombinedRangeXYPlot combined = new CombinedRangeXYPlot(range);
        combined.setGap(14);
        List<Integer> segments = time.drawn();
        double longest = segments.stream().mapToDouble(time::minutes).max().orElse(1);
        for (int segment : segments) {
            // No stretch gets so little room that its axis cannot be read.
            double share = Math.max(time.minutes(segment) / longest, 0.25);
            combined.add(plot(segment), (int) Math.round(share * 100));
        }
        JFreeChart chart = new JFreeChart(null, null, combined, false);
        chart.setBackgroundPaint(null);
        chart.setBorderVisible(false);
        chart.setPadding(new RectangleInsets(4, 0, 0, 4));
        combined.setInsets(RectangleInsets.ZERO_INSETS);
        combined.setRangeAxisLocation(AxisLocation.BOTTOM_OR_LEFT);
        ChartRenderingInfo info = new ChartRenderingInfo();
        float top = small ? titleHeight() - 5 : TITLE + 2 * STRIP - 4;
        chart.draw(
                graphics,
                new Rectangle2D.Double(0, top, width - keyWidth, Math.min(height - top, 1.5 * plotHeight)),
                null,
                info);
        for (int i = 0; i < segments.size(); i++) {
            Rectangle2D area = info.getPlotInfo().getSubplotInfo(i).getDataArea();
            if (small) {
                uprights(graphics, segments.get(i), area, false);
                if (i == segments.size() - 1) {
                    limitName(graphics, area, range);
                }
            } else {
                strips(graphics, segments.get(i), area);
                lineNumbers(graphics, segments.get(i), area, range);
                if (i == 0) {
                    limitLetters(graphics, area, range);
                }
            }
        }
        if (!small) {
            key(graphics);
        }
    }

    /** In a narrow chart the names of the lines have a line of their own. */
    private boolean isNarrow() {
        return width < NARROW;
    }

    private float titleHeight() {
        return isNarrow() ? TITLE + 9 : TITLE;
    }

    private static List<Trace> named(Typeface type, Words words, Quantity quantity, List<Trace> traces, float width) {
        double room = width - (width < NARROW ? 0 : type.bold.getWidthPoint(heading(words, quantity), SMALL_TITLE) + 8);
        List<Trace> named = new ArrayList<>();
        for (Trace trace : traces) {
            room -= SAMPLE + wide(type, type.clean(trace.shortLabel(words))) + (named.isEmpty() ? 0 : 6);
            if (room < 0) {
                break;
            }
            named.add(trace);
        }
        return named;
    }

    private static String heading(Words words, Quantity quantity) {
        return quantity.title(words) + ", " + quantity.shortUnit(words);
    }

    /** A piece of each line and what it is. */
    private void names(Graphics2D graphics, float from, float y) {
        float x = from;
        Stroke before = graphics.getStroke();
        graphics.setFont(plain);
        for (int i = 0; i < traces.size(); i++) {
            String name = type.clean(traces.get(i).shortLabel(words));
            graphics.setStroke(stroke(i));
            graphics.setColor(color(i));
            graphics.draw(new Line2D.Float(x, y - 2.4f, x + SAMPLE - 2, y - 2.4f));
            graphics.setColor(Ink.QUIET);
            graphics.drawString(name, x + SAMPLE, y);
            x += SAMPLE + (float) wide(name) + 6;
        }
        graphics.setStroke(before);
    }

    /** What a limit is, above its line at the right. */
    private void limitName(Graphics2D graphics, Rectangle2D area, NumberAxis range) {
        graphics.setFont(type.chart(NAME));
        graphics.setColor(Ink.LIMIT);
        limits.forEach((value, name) -> graphics.drawString(
                name,
                (float) area.getMaxX() - type.regular.getWidthPoint(name, NAME) - 2,
                (float) range.valueToJava2D(value, area, RectangleEdge.LEFT) - 2));
    }

    /** At the left end of each limit's line, on white, pushed apart where lines lie close together. */
    private void limitLetters(Graphics2D graphics, Rectangle2D area, NumberAxis range) {
        int place = 0;
        double free = area.getMinY();
        graphics.setFont(bold);
        for (double value : limits.keySet()) {
            double y = Math.max(range.valueToJava2D(value, area, RectangleEdge.LEFT) - 3.2, free);
            double x = area.getMinX() + 3;
            String text = letter(place++);
            graphics.setColor(Color.WHITE);
            graphics.fill(new Rectangle2D.Double(x - 1, y, wide(text) + 2, 6.4));
            graphics.setColor(Ink.LIMIT);
            graphics.drawString(text, (float) x, (float) y + 5.6f);
            free = y + 6.6;
        }
    }

    private static String letter(int place) {
        return place < 26 ? String.valueOf((char) ('A' + place)) : "…";
    }

    private XYPlot plot(int segment) {
        String minutes = words.text("course.minutes");
        String named = words.text("course.stretch.minutes", Timeline.stretch(words, segment));
        // Side by side in a small chart the names of stretches would run into each other.
        NumberAxis domain = axis(time.segments() == 1 ? minutes : small ? "" : named);
        domain.setRange(0, time.minutes(segment));
        YIntervalSeriesCollection data = new YIntervalSeriesCollection();
        DeviationRenderer renderer = new DeviationRenderer(true, false);
        renderer.setAlpha(1);
        boolean bands = !small && traces.size() <= 2;
        // Two to a point of paper: finer could not be seen, and would make the file heavy.
        int bins = (int) (2 * (width - keyWidth));
        for (int t = 0; t < traces.size(); t++) {
            Trace trace = traces.get(t);
            for (Series series : trace.series()) {
                if (series.segment() == segment) {
                    for (YIntervalSeries run : runs(series, trace.scale(), bands, data.getSeriesCount(), bins)) {
                        int index = data.getSeriesCount();
                        data.addSeries(run);
                        renderer.setSeriesPaint(index, color(t));
                        renderer.setSeriesStroke(index, stroke(t));
                        renderer.setSeriesFillPaint(index, pale(color(t)));
                    }
                }
            }
        }
        XYPlot plot = new XYPlot(data, domain, null, renderer) {
            @Override
            public void drawBackground(Graphics2D graphics, Rectangle2D area) {
                // As interval markers the bands would lie on the grid.
                bands(graphics, segment, area);
            }
        };
        plot.setOutlinePaint(Ink.HAIRLINE);
        plot.setDomainGridlinesVisible(false);
        plot.setRangeGridlinePaint(Ink.HAIRLINE);
        plot.setRangeGridlineStroke(new BasicStroke(0.3f));
        int place = 0;
        for (double value : limits.keySet()) {
            ValueMarker line = new ValueMarker(value, Ink.LIMIT, limitStroke(place++));
            line.setAlpha(1);
            plot.addRangeMarker(line, Layer.FOREGROUND);
        }
        return plot;
    }

    private void bands(Graphics2D graphics, int segment, Rectangle2D area) {
        double minutes = time.minutes(segment);
        graphics.setColor(Ink.BAND);
        int place = 0;
        for (StageSpan stage : time.stages) {
            if (stage.segment() == segment && place++ % 2 == 0) {
                double from = x(area, stage.startSeconds(), minutes);
                double to = x(area, stage.endSeconds(), minutes);
                graphics.fill(new Rectangle2D.Double(from, area.getMinY(), Math.max(to - from, 0), area.getHeight()));
            }
        }
    }

    /** Held inside the area, also for a time that is no number. */
    private static double x(Rectangle2D area, double seconds, double minutes) {
        double share = seconds / 60 / minutes;
        return area.getMinX() + area.getWidth() * (share >= 0 ? Math.min(share, 1) : 0);
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

    private NumberAxis axis(String label) {
        NumberAxis axis = new NumberAxis(label.isEmpty() ? null : label);
        axis.setTickLabelFont(plain);
        axis.setLabelFont(plain);
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

    /** All readings and limits, from zero except for temperatures; a little air above. */
    private Range range() {
        double low = quantity == Quantity.TEMPERATURE ? Double.POSITIVE_INFINITY : 0;
        double high = quantity == Quantity.TEMPERATURE ? Double.NEGATIVE_INFINITY : 0;
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
        for (double limit : limits.keySet()) {
            low = Math.min(low, limit);
            high = Math.max(high, limit);
        }
        if (!(low < high)) {
            low = Double.isFinite(low) ? low - 1 : 0;
            high = low + 2;
        }
        double air = (high - low) * 0.06;
        // Above a limit's line stands its name.
        double above = small && !limits.isEmpty() ? (high - low) * NAME_HEIGHT / (plotHeight - NAME_HEIGHT - 20) : air;
        return new Range(low == 0 ? 0 : low - air, high + above);
    }

    /** Stage names and event numbers above the plot; what has no room stays to the lists below the charts. */
    private void strips(Graphics2D graphics, int segment, Rectangle2D area) {
        double minutes = time.minutes(segment);
        float stageLine = (float) area.getMinY() - STRIP - 2;
        graphics.setFont(plain);
        graphics.setColor(Ink.QUIET);
        for (int i = 0; i < time.stages.size(); i++) {
            StageSpan stage = time.stages.get(i);
            if (stage.segment() == segment) {
                double from = x(area, stage.startSeconds(), minutes);
                double to = x(area, stage.endSeconds(), minutes);
                String number = "S" + (i + 1);
                String name = type.clean(number + " " + stage.stage());
                String shown = wide(name) < to - from - 2 ? name : wide(number) < to - from - 1 ? number : "";
                if (!shown.isEmpty()) {
                    graphics.drawString(shown, (float) ((from + to - wide(shown)) / 2), stageLine);
                }
            }
        }
        uprights(graphics, segment, area, true);
    }

    private void uprights(Graphics2D graphics, int segment, Rectangle2D area, boolean numbered) {
        double minutes = time.minutes(segment);
        float eventLine = (float) area.getMinY() - 3;
        double free = Double.NEGATIVE_INFINITY;
        double lastLine = Double.NEGATIVE_INFINITY;
        graphics.setFont(bold);
        graphics.setColor(Ink.QUIET);
        Stroke before = graphics.getStroke();
        graphics.setStroke(MARK);
        for (int number : time.marksOf(segment)) {
            double at = x(area, time.marks.get(number - 1).atSeconds(), minutes);
            // Uprights closer than this would run together and hide the readings.
            if (at - lastLine > 2.5) {
                // Many of them would hide the readings: then only the beginnings of lines.
                double end = time.marksOf(segment).size() > MARKS_DRAWN_THROUGH ? area.getMinY() + 4 : area.getMaxY();
                graphics.draw(new Line2D.Double(at, area.getMinY(), at, end));
                lastLine = at;
            }
            String text = "E" + number;
            double half = wide(text) / 2;
            if (numbered && at - half > free && at + half < width - keyWidth + 8) {
                graphics.drawString(text, (float) (at - half), eventLine);
                free = at + half + 1;
            }
        }
        graphics.setStroke(before);
    }

    /** Each line's number at its right end, pushed apart where lines end close together. */
    private void lineNumbers(Graphics2D graphics, int segment, Rectangle2D area, NumberAxis range) {
        record End(int trace, double x, double y) {}
        List<End> ends = new ArrayList<>();
        for (int t = 0; t < traces.size(); t++) {
            for (Series series : traces.get(t).series()) {
                if (series.segment() == segment) {
                    for (int i = series.mean().length - 1; i >= 0; i--) {
                        double value = series.mean()[i] * traces.get(t).scale();
                        if (Double.isFinite(value)) {
                            double at = series.startSeconds() + (i + 0.5) * series.binSeconds();
                            ends.add(new End(
                                    t,
                                    x(area, at, time.minutes(segment)),
                                    range.valueToJava2D(value, area, RectangleEdge.LEFT)));
                            break;
                        }
                    }
                }
            }
        }
        ends.sort(Comparator.comparingDouble(End::y));
        graphics.setFont(bold);
        double free = area.getMinY();
        double room = area.getMaxY() - ends.size() * 7.0;
        for (End end : ends) {
            double y = Math.max(Math.min(end.y() - 3, Math.max(room, free)), free);
            graphics.setColor(color(end.trace()));
            graphics.drawString(
                    Integer.toString(end.trace() + 1),
                    (float) Math.min(end.x() + 2, area.getMaxX() + 2),
                    (float) y + 6);
            free = y + 7;
            room += 7;
        }
    }

    private void key(Graphics2D graphics) {
        float left = width - keyWidth + 12;
        float y = TITLE + 6;
        Stroke before = graphics.getStroke();
        for (KeyEntry entry : key) {
            graphics.setStroke(entry.stroke());
            graphics.setColor(entry.color());
            graphics.draw(new Line2D.Float(left + 8, y - 2.2f, left + 28, y - 2.2f));
            graphics.setFont(bold);
            graphics.drawString(entry.number(), left, y);
            graphics.setColor(Ink.TEXT);
            graphics.setFont(plain);
            for (String line : entry.lines()) {
                graphics.drawString(line, left + 32, y);
                y += KEY_LINE;
            }
            y += 2.6f;
        }
        graphics.setStroke(before);
    }

    /** Broken to the key's width, at most so many lines; what is cut off is spelled out in the list of channels. */
    private List<String> wrapped(String text, int most) {
        double room = KEY_WIDTH - 12 - 32;
        List<String> lines = new ArrayList<>();
        String rest = type.clean(Blocks.begin(text)).replace('\n', ' ').strip();
        while (!rest.isEmpty()) {
            int end = rest.length();
            while (end > 1 && wide(rest.substring(0, end)) > room) {
                int space = rest.lastIndexOf(' ', end - 1);
                end = space > 0 ? space : end - 1;
            }
            if (lines.size() == most - 1 && end < rest.length()) {
                String line = rest.substring(0, Math.min(rest.length(), end + 12));
                while (line.length() > 1 && wide(line + "…") > room) {
                    line = line.substring(0, line.length() - 1);
                }
                lines.add(line.stripTrailing() + "…");
                return lines;
            }
            lines.add(rest.substring(0, end).stripTrailing());
            rest = rest.substring(end).strip();
        }
        return lines.isEmpty() ? List.of("") : lines;
    }

    /** By the embedded font's own widths: the same on every machine. */
    private double wide(String text) {
        return wide(type, text);
    }

    private static double wide(Typeface type, String text) {
        return type.bold.getWidthPoint(text, 6.6f);
    }

    private static Color color(int line) {
        return COLORS[line % COLORS.length];
    }

    private static Color pale(Color color) {
        return new Color(
                255 - (255 - color.getRed()) / 4,
                255 - (255 - color.getGreen()) / 4,
                255 - (255 - color.getBlue()) / 4);
    }

    private Stroke stroke(int line) {
        if (traces.get(line).isLimit()) {
            return new BasicStroke(1.6f, BasicStroke.CAP_BUTT, BasicStroke.JOIN_ROUND, 10, new float[] {3, 1.5f}, 0);
        }
        float[] dash = DASHES[line % DASHES.length];
        return dash == null
                ? new BasicStroke(1.1f, BasicStroke.CAP_BUTT, BasicStroke.JOIN_ROUND)
                : new BasicStroke(1.1f, BasicStroke.CAP_BUTT, BasicStroke.JOIN_ROUND, 10, dash, 0);
    }

    private static Stroke limitStroke(int place) {
        return new BasicStroke(
                0.8f, BasicStroke.CAP_BUTT, BasicStroke.JOIN_MITER, 10, LIMIT_DASHES[place % LIMIT_DASHES.length], 0);
    }

    private record KeyEntry(String number, Stroke stroke, Color color, List<String> lines) {
        float height() {
            return lines.size() * KEY_LINE + 2.6f;
        }
    }
}

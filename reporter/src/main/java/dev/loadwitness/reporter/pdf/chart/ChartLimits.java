// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.chart;

import dev.loadwitness.reporter.pdf.paper.Ink;
import dev.loadwitness.reporter.pdf.paper.Words;
import java.awt.Color;
import java.awt.Graphics2D;
import java.awt.geom.Rectangle2D;
import java.util.Comparator;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.stream.Collectors;
import org.jfree.chart.axis.NumberAxis;
import org.jfree.chart.plot.ValueMarker;
import org.jfree.chart.plot.XYPlot;
import org.jfree.chart.ui.Layer;
import org.jfree.chart.ui.RectangleEdge;

/** The limits that devices state of themselves, as level lines: which, and how each is named on its line. */
final class ChartLimits {
    /** Of a limit's name above its line. */
    static final float NAME_HEIGHT = 9;

    private static final float NAME = 6;
    /** Of a chart's width, for the numbers at its axis. */
    private static final float AXIS_ROOM = 24;

    private final ChartType type;
    private final Map<Double, String> limits;

    private ChartLimits(ChartType type, Map<Double, String> limits) {
        this.type = type;
        this.limits = limits;
    }

    static ChartLimits all(ChartType type, Words words, List<Trace> traces) {
        return new ChartLimits(
                type,
                traces.stream()
                        .flatMap(t -> t.limits(words).stream())
                        .sorted(Comparator.comparingDouble(Trace.Limit::value).reversed())
                        .collect(Collectors.groupingBy(
                                Trace.Limit::value,
                                LinkedHashMap::new,
                                Collectors.mapping(
                                        Trace.Limit::text,
                                        Collectors.collectingAndThen(
                                                Collectors.toList(),
                                                texts -> texts.stream()
                                                        .distinct()
                                                        .collect(Collectors.joining("; ")))))));
    }

    /** Where the first line's part would hold itself back: the one limit whose name has room on its line. */
    static ChartLimits nearest(ChartType type, Words words, List<Trace> traces, float width) {
        return new ChartLimits(
                type,
                traces.stream()
                        .limit(1)
                        .flatMap(t -> t.slowdown(words).stream())
                        .map(limit -> Map.entry(limit.value(), type.face().clean(limit.text())))
                        .filter(limit -> type.face().regular.getWidthPoint(limit.getValue(), NAME) < width - AXIS_ROOM)
                        .collect(Collectors.toMap(Map.Entry::getKey, Map.Entry::getValue)));
    }

    Map<Double, String> named() {
        return limits;
    }

    void addTo(XYPlot plot) {
        int place = 0;
        for (double value : limits.keySet()) {
            ValueMarker line = new ValueMarker(value, Ink.LIMIT, ChartPens.limit(place++));
            line.setAlpha(1);
            plot.addRangeMarker(line, Layer.FOREGROUND);
        }
    }

    /** What a limit is, above its line at the right. */
    void names(Graphics2D graphics, Rectangle2D area, NumberAxis range) {
        graphics.setFont(type.face().chart(NAME));
        graphics.setColor(Ink.LIMIT);
        limits.forEach((value, name) -> graphics.drawString(
                name,
                (float) area.getMaxX() - type.face().regular.getWidthPoint(name, NAME) - 2,
                (float) range.valueToJava2D(value, area, RectangleEdge.LEFT) - 2));
    }

    /** At the left end of each limit's line, on white, pushed apart where lines lie close together. */
    void letters(Graphics2D graphics, Rectangle2D area, NumberAxis range) {
        int place = 0;
        double free = area.getMinY();
        graphics.setFont(type.bold());
        for (double value : limits.keySet()) {
            double y = Math.max(range.valueToJava2D(value, area, RectangleEdge.LEFT) - 3.2, free);
            double x = area.getMinX() + 3;
            String text = letter(place++);
            graphics.setColor(Color.WHITE);
            graphics.fill(new Rectangle2D.Double(x - 1, y, type.wide(text) + 2, 6.4));
            graphics.setColor(Ink.LIMIT);
            graphics.drawString(text, (float) x, (float) y + 5.6f);
            free = y + 6.6;
        }
    }

    static String letter(int place) {
        return place < 26 ? String.valueOf((char) ('A' + place)) : "…";
    }
}

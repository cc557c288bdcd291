// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.chart;

import dev.loadwitness.reporter.pdf.paper.Ink;
import dev.loadwitness.reporter.pdf.paper.Words;
import dev.loadwitness.reporter.scan.series.Series;
import java.awt.Graphics2D;
import java.awt.Stroke;
import java.awt.geom.Line2D;
import java.awt.geom.Rectangle2D;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.List;
import org.jfree.chart.axis.NumberAxis;
import org.jfree.chart.ui.RectangleEdge;

/** Which line is which: by number at its end, or by name above a small chart. */
final class ChartLines {
    /** A piece of a line in front of its name. */
    private static final float SAMPLE = 14;

    private static final float BETWEEN = 6;

    private final ChartType type;
    private final List<Trace> traces;

    ChartLines(ChartType type, List<Trace> traces) {
        this.type = type;
        this.traces = List.copyOf(traces);
    }

    /** Those of the lines whose names have room. */
    static ChartLines named(ChartType type, Words words, List<Trace> traces, double room) {
        double left = room;
        List<Trace> named = new ArrayList<>();
        for (Trace trace : traces) {
            left -= SAMPLE + type.wide(type.face().clean(trace.shortLabel(words))) + (named.isEmpty() ? 0 : BETWEEN);
            if (left < 0) {
                break;
            }
            named.add(trace);
        }
        return new ChartLines(type, named);
    }

    List<Trace> traces() {
        return traces;
    }

    /** A piece of each line and what it is. */
    void names(Graphics2D graphics, Words words, float from, float y) {
        float x = from;
        Stroke before = graphics.getStroke();
        graphics.setFont(type.plain());
        for (int i = 0; i < traces.size(); i++) {
            String name = type.face().clean(traces.get(i).shortLabel(words));
            graphics.setStroke(ChartPens.stroke(traces.get(i), i));
            graphics.setColor(ChartPens.color(i));
            graphics.draw(new Line2D.Float(x, y - 2.4f, x + SAMPLE - 2, y - 2.4f));
            graphics.setColor(Ink.QUIET);
            graphics.drawString(name, x + SAMPLE, y);
            x += SAMPLE + (float) type.wide(name) + BETWEEN;
        }
        graphics.setStroke(before);
    }

    /** Each line's number at its right end, pushed apart where lines end close together. */
    void numbers(Graphics2D graphics, ChartTime time, int segment, Rectangle2D area, NumberAxis range) {
        record End(int trace, double x, double y) {}
        List<End> ends = new ArrayList<>();
        for (int t = 0; t < traces.size(); t++) {
            for (Series series : traces.get(t).series()) {
                if (series.segment() == segment) {
                    for (int i = series.mean().length - 1; i >= 0; i--) {
                        double value = series.mean()[i] * traces.get(t).scale();
                        if (Double.isFinite(value)) {
                            double at = series.startSeconds() + (i + 0.5) * series.binSeconds();
                            ends.add(
                                    new End(t, time.x(area, at), range.valueToJava2D(value, area, RectangleEdge.LEFT)));
                            break;
                        }
                    }
                }
            }
        }
        ends.sort(Comparator.comparingDouble(End::y));
        graphics.setFont(type.bold());
        double free = area.getMinY();
        double room = area.getMaxY() - ends.size() * 7.0;
        for (End end : ends) {
            double y = Math.max(Math.min(end.y() - 3, Math.max(room, free)), free);
            graphics.setColor(ChartPens.color(end.trace()));
            graphics.drawString(
                    Integer.toString(end.trace() + 1),
                    (float) Math.min(end.x() + 2, area.getMaxX() + 2),
                    (float) y + 6);
            free = y + 7;
            room += 7;
        }
    }
}

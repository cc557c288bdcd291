// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.chart;

import dev.loadwitness.reporter.chart.PrintedChart;
import dev.loadwitness.reporter.pdf.paper.Blocks;
import dev.loadwitness.reporter.pdf.paper.Ink;
import dev.loadwitness.reporter.pdf.paper.Words;
import java.awt.Color;
import java.awt.Graphics2D;
import java.awt.Stroke;
import java.awt.geom.Line2D;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;

/** What each line of a chart is, in words beside it: lines by number, limits by letter. */
final class ChartKey {
    static final float WIDTH = 126;
    private static final float LINE = 8.4f;
    /** Of one entry; what is cut off is spelled out in the list of channels. */
    private static final int MOST_LINES = 3;

    private final ChartType type;
    private final List<Entry> entries = new ArrayList<>();

    ChartKey(ChartType type, Words words, PrintedChart quantity, List<Trace> traces, Map<Double, String> limits) {
        this.type = type;
        for (int i = 0; i < traces.size(); i++) {
            entries.add(new Entry(
                    Integer.toString(i + 1),
                    ChartPens.stroke(traces.get(i), i),
                    ChartPens.color(i),
                    wrapped(traces.get(i).label(words))));
        }
        int place = 0;
        for (Map.Entry<Double, String> limit : limits.entrySet()) {
            String level = words.number(limit.getKey(), words.unit(quantity));
            entries.add(new Entry(
                    ChartLimits.letter(place),
                    ChartPens.limit(place),
                    Ink.LIMIT,
                    wrapped(words.text("limit.line", level, limit.getValue()))));
            place++;
        }
    }

    float height() {
        return (float) entries.stream().mapToDouble(Entry::height).sum();
    }

    void draw(Graphics2D graphics, float left, float top) {
        float y = top;
        Stroke before = graphics.getStroke();
        for (Entry entry : entries) {
            graphics.setStroke(entry.stroke());
            graphics.setColor(entry.color());
            graphics.draw(new Line2D.Float(left + 8, y - 2.2f, left + 28, y - 2.2f));
            graphics.setFont(type.bold());
            graphics.drawString(entry.number(), left, y);
            graphics.setColor(Ink.TEXT);
            graphics.setFont(type.plain());
            for (String line : entry.lines()) {
                graphics.drawString(line, left + 32, y);
                y += LINE;
            }
            y += 2.6f;
        }
        graphics.setStroke(before);
    }

    /** Broken to the key's width. */
    private List<String> wrapped(String text) {
        double room = WIDTH - 12 - 32;
        List<String> lines = new ArrayList<>();
        String rest = type.face().clean(Blocks.begin(text)).replace('\n', ' ').strip();
        while (!rest.isEmpty()) {
            int end = rest.length();
            while (end > 1 && type.wide(rest.substring(0, end)) > room) {
                int space = rest.lastIndexOf(' ', end - 1);
                end = space > 0 ? space : end - 1;
            }
            if (lines.size() == MOST_LINES - 1 && end < rest.length()) {
                String line = rest.substring(0, Math.min(rest.length(), end + 12));
                while (line.length() > 1 && type.wide(line + "…") > room) {
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

    private record Entry(String number, Stroke stroke, Color color, List<String> lines) {
        float height() {
            return lines.size() * LINE + 2.6f;
        }
    }
}

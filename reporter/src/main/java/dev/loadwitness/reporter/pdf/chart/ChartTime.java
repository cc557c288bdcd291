// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.chart;

import dev.loadwitness.reporter.pdf.paper.Ink;
import dev.loadwitness.reporter.scan.stage.StageSpan;
import java.awt.BasicStroke;
import java.awt.Graphics2D;
import java.awt.Stroke;
import java.awt.geom.Line2D;
import java.awt.geom.Rectangle2D;

/** What one stretch of time shows behind and above its lines: stages as bands, events as uprights. */
final class ChartTime {
    static final float STRIP = 11;

    private static final Stroke MARK =
            new BasicStroke(0.5f, BasicStroke.CAP_BUTT, BasicStroke.JOIN_MITER, 10, new float[] {1.2f, 1.6f}, 0);
    private static final int MARKS_DRAWN_THROUGH = 40;

    private final ChartType type;
    private final Timeline time;
    private final int segment;
    private final double minutes;

    ChartTime(ChartType type, Timeline time, int segment) {
        this.type = type;
        this.time = time;
        this.segment = segment;
        this.minutes = time.minutes(segment);
    }

    void bands(Graphics2D graphics, Rectangle2D area) {
        graphics.setColor(Ink.BAND);
        int place = 0;
        for (StageSpan stage : time.stages) {
            if (stage.segment() == segment && place++ % 2 == 0) {
                double from = x(area, stage.startSeconds());
                double to = x(area, stage.endSeconds());
                graphics.fill(new Rectangle2D.Double(from, area.getMinY(), Math.max(to - from, 0), area.getHeight()));
            }
        }
    }

    /** Held inside the area, also for a time that is no number. */
    double x(Rectangle2D area, double seconds) {
        double share = seconds / 60 / minutes;
        return area.getMinX() + area.getWidth() * (share >= 0 ? Math.min(share, 1) : 0);
    }

    /** Stage names and event numbers above the plot; what has no room stays to the lists below the charts. */
    void strips(Graphics2D graphics, Rectangle2D area, double numbersUpTo) {
        float stageLine = (float) area.getMinY() - STRIP - 2;
        graphics.setFont(type.plain());
        graphics.setColor(Ink.QUIET);
        for (int i = 0; i < time.stages.size(); i++) {
            StageSpan stage = time.stages.get(i);
            if (stage.segment() == segment) {
                double from = x(area, stage.startSeconds());
                double to = x(area, stage.endSeconds());
                String number = "S" + (i + 1);
                String name = type.face().clean(number + " " + stage.stage());
                String shown = type.wide(name) < to - from - 2 ? name : type.wide(number) < to - from - 1 ? number : "";
                if (!shown.isEmpty()) {
                    graphics.drawString(shown, (float) ((from + to - type.wide(shown)) / 2), stageLine);
                }
            }
        }
        uprights(graphics, area, numbersUpTo);
    }

    /** @param numbersUpTo no number reaches further right; negative for none */
    void uprights(Graphics2D graphics, Rectangle2D area, double numbersUpTo) {
        float eventLine = (float) area.getMinY() - 3;
        double free = Double.NEGATIVE_INFINITY;
        double lastLine = Double.NEGATIVE_INFINITY;
        graphics.setFont(type.bold());
        graphics.setColor(Ink.QUIET);
        Stroke before = graphics.getStroke();
        graphics.setStroke(MARK);
        for (int number : time.marksOf(segment)) {
            double at = x(area, time.marks.get(number - 1).atSeconds());
            // Uprights closer than this would run together and hide the readings.
            if (at - lastLine > 2.5) {
                // Many of them would hide the readings: then only the beginnings of lines.
                double end = time.marksOf(segment).size() > MARKS_DRAWN_THROUGH ? area.getMinY() + 4 : area.getMaxY();
                graphics.draw(new Line2D.Double(at, area.getMinY(), at, end));
                lastLine = at;
            }
            String text = "E" + number;
            double half = type.wide(text) / 2;
            if (at - half > free && at + half < numbersUpTo) {
                graphics.drawString(text, (float) (at - half), eventLine);
                free = at + half + 1;
            }
        }
        graphics.setStroke(before);
    }
}

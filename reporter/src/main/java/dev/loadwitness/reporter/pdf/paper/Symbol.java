// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.paper;

import com.lowagie.text.Image;
import com.lowagie.text.pdf.PdfContentByte;
import com.lowagie.text.pdf.PdfTemplate;
import dev.loadwitness.reporter.finding.Outcome;
import java.awt.Color;

/** How an outcome looks: each has an outline of its own, so that it is known in grey, from afar, and without its word. */
public final class Symbol {
    private Symbol() {}

    /**
     * The sign of an outcome.
     *
     * @param ink of the outline; the sign inside is in {@code paper}
     */
    public static Image of(PdfContentByte canvas, Outcome outcome, float size, Color ink, Color paper) {
        PdfTemplate t = canvas.createTemplate(size, size);
        t.setColorFill(ink);
        t.setColorStroke(paper);
        t.setLineWidth(size * 0.11f);
        t.setLineCap(PdfContentByte.LINE_CAP_ROUND);
        t.setLineJoin(PdfContentByte.LINE_JOIN_ROUND);
        switch (outcome) {
            case PASS -> {
                t.circle(size / 2, size / 2, size / 2);
                t.fill();
                line(t, size, 0.27f, 0.52f, 0.44f, 0.33f, 0.74f, 0.68f);
            }
            case FAIL -> {
                t.rectangle(size * 0.04f, size * 0.04f, size * 0.92f, size * 0.92f);
                t.fill();
                line(t, size, 0.28f, 0.28f, 0.72f, 0.72f);
                line(t, size, 0.28f, 0.72f, 0.72f, 0.28f);
            }
            case INCONCLUSIVE, NOT_MEASURED -> {
                area(t, size, 0.5f, 1, 1, 0.5f, 0.5f, 0, 0, 0.5f);
                // A question mark as a line and a dot: a letter would be read out.
                t.moveTo(size * 0.38f, size * 0.63f);
                t.curveTo(size * 0.38f, size * 0.82f, size * 0.64f, size * 0.80f, size * 0.62f, size * 0.62f);
                t.curveTo(size * 0.60f, size * 0.53f, size * 0.5f, size * 0.53f, size * 0.5f, size * 0.42f);
                t.stroke();
                t.setColorFill(paper);
                t.circle(size * 0.5f, size * 0.26f, size * 0.065f);
                t.fill();
            }
            case NOT_APPLICABLE -> {
                t.circle(size / 2, size / 2, size / 2);
                t.fill();
                line(t, size, 0.28f, 0.5f, 0.72f, 0.5f);
            }
        }
        return Image.getInstance(t);
    }

    private static void line(PdfTemplate t, float size, float... points) {
        t.moveTo(points[0] * size, points[1] * size);
        for (int i = 2; i < points.length; i += 2) {
            t.lineTo(points[i] * size, points[i + 1] * size);
        }
        t.stroke();
    }

    private static void area(PdfTemplate t, float size, float... points) {
        t.moveTo(points[0] * size, points[1] * size);
        for (int i = 2; i < points.length; i += 2) {
            t.lineTo(points[i] * size, points[i + 1] * size);
        }
        t.closePath();
        t.fill();
    }
}

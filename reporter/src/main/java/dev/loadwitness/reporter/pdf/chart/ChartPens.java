// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.chart;

import java.awt.BasicStroke;
import java.awt.Color;
import java.awt.Stroke;

/** Colours and strokes by which the lines of a chart are told apart, also in grey. */
final class ChartPens {
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

    private ChartPens() {}

    static Color color(int line) {
        return COLORS[line % COLORS.length];
    }

    static Color pale(Color color) {
        return new Color(
                255 - (255 - color.getRed()) / 4,
                255 - (255 - color.getGreen()) / 4,
                255 - (255 - color.getBlue()) / 4);
    }

    static Stroke stroke(Trace trace, int line) {
        if (trace.isLimit()) {
            return new BasicStroke(1.6f, BasicStroke.CAP_BUTT, BasicStroke.JOIN_ROUND, 10, new float[] {3, 1.5f}, 0);
        }
        float[] dash = DASHES[line % DASHES.length];
        return dash == null
                ? new BasicStroke(1.1f, BasicStroke.CAP_BUTT, BasicStroke.JOIN_ROUND)
                : new BasicStroke(1.1f, BasicStroke.CAP_BUTT, BasicStroke.JOIN_ROUND, 10, dash, 0);
    }

    static Stroke limit(int place) {
        return new BasicStroke(
                0.8f, BasicStroke.CAP_BUTT, BasicStroke.JOIN_MITER, 10, LIMIT_DASHES[place % LIMIT_DASHES.length], 0);
    }
}

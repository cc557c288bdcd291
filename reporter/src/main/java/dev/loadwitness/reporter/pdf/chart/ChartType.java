// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.chart;

import dev.loadwitness.reporter.pdf.paper.Typeface;
import java.awt.Font;

/** The letters of charts, and how wide they are. */
record ChartType(Typeface face, Font plain, Font bold) {
    private static final float SIZE = 6.6f;

    static ChartType of(Typeface face) {
        return new ChartType(face, face.chart(SIZE), face.chartBold(SIZE));
    }

    /** By the embedded font's own widths: the same on every machine. */
    double wide(String text) {
        return face.bold.getWidthPoint(text, SIZE);
    }
}

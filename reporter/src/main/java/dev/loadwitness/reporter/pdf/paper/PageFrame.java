// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.paper;

import com.lowagie.text.Document;
import com.lowagie.text.Element;
import com.lowagie.text.Phrase;
import com.lowagie.text.Rectangle;
import com.lowagie.text.pdf.BaseFont;
import com.lowagie.text.pdf.ColumnText;
import com.lowagie.text.pdf.PdfContentByte;
import com.lowagie.text.pdf.PdfPageEventHelper;
import com.lowagie.text.pdf.PdfWriter;

/** What stands on every page: which report this is, page x of y, and the stamp of a simulated run. */
public final class PageFrame extends PdfPageEventHelper {
    private final Typeface type;
    private final Words words;
    private final String title;
    private final String identity;
    private final boolean simulated;
    private final int pages;

    /** @param pages how many there will be; 0 while that is still being found out */
    public PageFrame(Typeface type, Words words, String title, String identity, boolean simulated, int pages) {
        this.type = type;
        this.words = words;
        this.title = title;
        this.identity = identity;
        this.simulated = simulated;
        this.pages = pages;
    }

    @Override
    public void onEndPage(PdfWriter writer, Document document) {
        PdfContentByte canvas = writer.getDirectContent();
        float left = document.left();
        float right = document.right();
        float foot = document.bottom() - 18;
        canvas.saveState();
        canvas.setColorStroke(Ink.HAIRLINE);
        canvas.setLineWidth(0.5f);
        canvas.moveTo(left, foot + 10);
        canvas.lineTo(right, foot + 10);
        canvas.stroke();
        canvas.restoreState();
        String page = words.text("frame.page", Integer.toString(writer.getPageNumber()), Integer.toString(pages));
        float room = right - left - type.regular.getWidthPoint(page, 7) - 12;
        show(canvas, Element.ALIGN_LEFT, fitted(identity, room), left, foot);
        show(canvas, Element.ALIGN_RIGHT, page, right, foot);
        if (writer.getPageNumber() > 1) {
            show(canvas, Element.ALIGN_LEFT, title, left, document.top() + 12);
        }
        if (simulated) {
            stamp(canvas, document.getPageSize());
            ColumnText.showTextAligned(
                    canvas,
                    Element.ALIGN_RIGHT,
                    new Phrase(words.text("frame.simulated.why"), type.bold(8, Ink.LIMIT)),
                    right,
                    document.top() + 12,
                    0);
        }
    }

    private void show(PdfContentByte canvas, int align, String text, float x, float y) {
        ColumnText.showTextAligned(canvas, align, new Phrase(text, type.regular(7, Ink.QUIET)), x, y, 0);
    }

    private String fitted(String text, float room) {
        String shown = type.clean(Blocks.begin(text)).replace('\n', ' ');
        while (shown.length() > 2 && type.regular.getWidthPoint(shown, 7) > room) {
            shown = shown.substring(0, shown.length() - 2).stripTrailing() + "…";
        }
        return shown;
    }

    /** Hollow letters over everything: no page can be passed off, and everything below stays readable. */
    private void stamp(PdfContentByte canvas, Rectangle page) {
        BaseFont font = type.bold;
        String stamp = words.text("frame.simulated");
        // From corner to corner, however long the word is.
        float size = Math.min(104, 720 / font.getWidthPoint(stamp, 1));
        float width = font.getWidthPoint(stamp, size);
        double angle = Math.toRadians(52);
        float cos = (float) Math.cos(angle);
        float sin = (float) Math.sin(angle);
        canvas.saveState();
        canvas.beginText();
        canvas.setFontAndSize(font, size);
        canvas.setTextRenderingMode(PdfContentByte.TEXT_RENDER_MODE_STROKE);
        canvas.setColorStroke(Ink.STAMP);
        canvas.setLineWidth(0.9f);
        float middleX = page.getWidth() / 2 + sin * size * 0.35f;
        float middleY = page.getHeight() / 2 - cos * size * 0.35f;
        canvas.setTextMatrix(cos, sin, -sin, cos, middleX - cos * width / 2, middleY - sin * width / 2);
        canvas.showText(stamp);
        canvas.endText();
        canvas.restoreState();
    }
}

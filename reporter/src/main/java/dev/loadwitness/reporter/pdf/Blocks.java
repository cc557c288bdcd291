// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import com.lowagie.text.Document;
import com.lowagie.text.Element;
import com.lowagie.text.Font;
import com.lowagie.text.Paragraph;
import com.lowagie.text.Phrase;
import com.lowagie.text.Rectangle;
import com.lowagie.text.pdf.PdfPCell;
import com.lowagie.text.pdf.PdfPTable;
import com.lowagie.text.pdf.PdfWriter;
import java.awt.Color;
import java.util.List;

/** The building blocks of the pages: headings, sentences, lists, tables. All text goes through {@link Typeface#clean}. */
final class Blocks {
    static final float BODY = 8.8f;
    static final float SMALL = 7.4f;
    private static final float LEADING = 1.32f;

    /** No heading stands alone at the foot of a page. */
    private static final float ROOM_BELOW_HEADING = 78;

    private final Document document;
    private final PdfWriter writer;
    final Typeface type;

    Blocks(Document document, PdfWriter writer, Typeface type) {
        this.writer = writer;
        this.document = document;
        this.type = type;
    }

    /** What a field shows that nobody filled in: an empty place on a certificate can be filled in afterwards. */
    static String stated(String text) {
        return text.isBlank() ? "not stated" : text;
    }

    void heading(String text) {
        if (writer.getVerticalPosition(true) < document.bottom() + ROOM_BELOW_HEADING) {
            document.newPage();
        }
        PdfPTable table = table(1);
        table.setSpacingBefore(13);
        table.setSpacingAfter(4);
        PdfPCell cell = cell(text, type.bold(11.5f, Ink.ACCENT));
        cell.setPadding(0);
        cell.setPaddingBottom(3.5f);
        cell.setBorder(Rectangle.BOTTOM);
        cell.setBorderColor(Ink.ACCENT);
        cell.setBorderWidth(0.8f);
        table.addCell(cell);
        document.add(table);
    }

    void paragraph(String text) {
        paragraph(text, type.regular(BODY, Ink.TEXT));
    }

    void quiet(String text) {
        paragraph(text, type.regular(SMALL, Ink.QUIET));
    }

    void paragraph(String text, Font font) {
        Paragraph paragraph = new Paragraph(font.getSize() * LEADING, type.clean(text), font);
        paragraph.setSpacingAfter(4);
        document.add(paragraph);
    }

    void bullets(List<String> texts) {
        PdfPTable table = table(2.2f, 97.8f);
        for (String text : texts) {
            PdfPCell dot = cell("–", type.regular(BODY, Ink.QUIET));
            dot.setPadding(0);
            dot.setPaddingBottom(2.6f);
            PdfPCell words = cell(text, type.regular(BODY, Ink.TEXT));
            words.setPadding(0);
            words.setPaddingBottom(2.6f);
            table.addCell(dot);
            table.addCell(words);
        }
        add(table);
    }

    /** A table as wide as the page, its columns in these shares. Rows move whole; only one taller than a page is cut. */
    PdfPTable table(float... shares) {
        PdfPTable table = new PdfPTable(shares.length == 1 ? new float[] {1} : shares);
        table.setWidthPercentage(100);
        table.setSplitLate(true);
        table.setSplitRows(true);
        return table;
    }

    void add(PdfPTable table) {
        document.add(table);
    }

    void newPage() {
        document.newPage();
    }

    PdfPCell cell(String text, Font font) {
        return cell(new Phrase(type.clean(text), font), font.getSize());
    }

    PdfPCell cell(Phrase phrase, float size) {
        PdfPCell cell = new PdfPCell(phrase);
        cell.setLeading(size * LEADING, 0);
        cell.setBorder(Rectangle.NO_BORDER);
        cell.setPadding(3);
        cell.setPaddingTop(1.5f);
        cell.setPaddingBottom(4);
        return cell;
    }

    PdfPCell head(String text) {
        PdfPCell cell = cell(text, type.bold(SMALL, Color.WHITE));
        cell.setBackgroundColor(Ink.ACCENT);
        cell.setVerticalAlignment(Element.ALIGN_BOTTOM);
        return cell;
    }

    PdfPCell underlined(PdfPCell cell) {
        cell.setBorder(Rectangle.BOTTOM);
        cell.setBorderColor(Ink.HAIRLINE);
        cell.setBorderWidth(0.5f);
        return cell;
    }

    PdfPCell label(String text) {
        PdfPCell cell = cell(text, type.regular(SMALL, Ink.QUIET));
        cell.setPaddingLeft(0);
        cell.setPaddingTop(2.4f);
        return underlined(cell);
    }

    PdfPCell value(String text) {
        return underlined(cell(text, type.regular(BODY, Ink.TEXT)));
    }

    /** For digests and identifiers, where every character counts. */
    PdfPCell exact(String text) {
        return underlined(cell(text, type.mono(SMALL, Ink.TEXT)));
    }

    PdfPCell across(PdfPCell cell, int columns) {
        cell.setColspan(columns);
        return cell;
    }
}

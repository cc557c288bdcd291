// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.paper;

import com.lowagie.text.Document;
import com.lowagie.text.Element;
import com.lowagie.text.Font;
import com.lowagie.text.Paragraph;
import com.lowagie.text.Phrase;
import com.lowagie.text.Rectangle;
import com.lowagie.text.pdf.BaseFont;
import com.lowagie.text.pdf.PdfPCell;
import com.lowagie.text.pdf.PdfPTable;
import com.lowagie.text.pdf.PdfWriter;
import java.awt.Color;
import java.util.List;

/** The building blocks of the pages: headings, sentences, lists, tables. All text goes through {@link Typeface#clean}. */
public final class Blocks {
    public static final float BODY = 8.8f;
    public static final float SMALL = 7.4f;
    static final float LEADING = 1.32f;

    /** More than fits anywhere that asks; of a longer text half as many characters are looked at. */
    private static final int FITTED_MOST = 2000;

    private static final int PRINTED_MOST = 40_000;

    /** No heading stands alone at the foot of a page. */
    private static final float ROOM_BELOW_HEADING = 78;

    private final Document document;
    public final PdfWriter writer;
    public final Typeface type;
    public final Words words;

    public Blocks(Document document, PdfWriter writer, Typeface type, Words words) {
        this.writer = writer;
        this.document = document;
        this.type = type;
        this.words = words;
    }

    public String text(String key, String... inserts) {
        return words.text(key, inserts);
    }

    public float width() {
        return document.right() - document.left();
    }

    /** Room left on this page. */
    public float room() {
        return writer.getVerticalPosition(true) - document.bottom();
    }

    public void heading(String text) {
        heading(text, ROOM_BELOW_HEADING);
    }

    /**
     * A heading, on the next page if too little of this one is left.
     *
     * @param room that what follows needs at least
     */
    public void heading(String text, float room) {
        if (room() < room) {
            document.newPage();
        }
        PdfPTable table = headingTable(text, 11.5f);
        table.setSpacingBefore(13);
        document.add(table);
    }

    public PdfPTable headingTable(String text, float size) {
        PdfPTable table = table(1);
        table.setSpacingAfter(4);
        PdfPCell cell = cell(text, type.bold(size, Ink.ACCENT));
        cell.setPadding(0);
        cell.setPaddingBottom(3.5f);
        cell.setBorder(Rectangle.BOTTOM);
        cell.setBorderColor(Ink.ACCENT);
        cell.setBorderWidth(0.8f);
        table.addCell(cell);
        return table;
    }

    /**
     * As much of the text as fits into so many lines, whole words where it can; what is cut off ends in a dot of three,
     * and stands whole elsewhere.
     */
    public String fitted(String text, Font font, float width, int lines) {
        String clean = type.clean(begin(text)).replace('\n', ' ').strip();
        BaseFont base = font.getBaseFont();
        StringBuilder out = new StringBuilder();
        String rest = clean;
        for (int line = 1; !rest.isEmpty(); line++) {
            int end = rest.length();
            while (end > 1 && base.getWidthPoint(rest.substring(0, end), font.getSize()) > width) {
                int space = rest.lastIndexOf(' ', end - 1);
                end = space > 0 ? space : rest.offsetByCodePoints(end, -1);
            }
            if (line == lines && end < rest.length()) {
                while (end > 0 && base.getWidthPoint(rest.substring(0, end) + "…", font.getSize()) > width) {
                    end = rest.offsetByCodePoints(end, -1);
                }
                int space = rest.lastIndexOf(' ', end);
                return out.append(rest.substring(0, space > 0 ? space : end).stripTrailing())
                        .append('…')
                        .toString();
            }
            out.append(rest, 0, end).append(end < rest.length() ? " " : "");
            rest = rest.substring(end).strip();
        }
        return out.toString();
    }

    /** What could stand in a few lines: measuring how much of a text fits takes ever longer the longer the text. */
    public static String begin(String text) {
        return text.length() <= FITTED_MOST
                ? text
                : text.substring(0, text.offsetByCodePoints(0, FITTED_MOST / 2)) + "…";
    }

    /** Some pages of one text are enough; the library copies it for each of them. Whole it lies in the files inside. */
    private static String printed(String text) {
        return text.length() <= PRINTED_MOST
                ? text
                : text.substring(0, text.offsetByCodePoints(0, PRINTED_MOST / 2)) + " …";
    }

    public void paragraph(String text) {
        paragraph(text, type.regular(BODY, Ink.TEXT));
    }

    public void quiet(String text) {
        paragraph(text, type.regular(SMALL, Ink.QUIET));
    }

    public void paragraph(String text, Font font) {
        Paragraph paragraph = new Paragraph(font.getSize() * LEADING, type.clean(printed(text)), font);
        paragraph.setSpacingAfter(4);
        document.add(paragraph);
    }

    public void bullets(List<String> texts) {
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
    public PdfPTable table(float... shares) {
        PdfPTable table = new PdfPTable(shares.length == 1 ? new float[] {1} : shares);
        table.setWidthPercentage(100);
        table.setSplitLate(true);
        table.setSplitRows(true);
        return table;
    }

    public PdfPTable columns(List<String> heads, float... shares) {
        PdfPTable table = table(shares);
        heads.forEach(head -> table.addCell(head(text(head))));
        table.setHeaderRows(1);
        return table;
    }

    public void pair(PdfPTable table, String label, String value, String label2, String value2) {
        table.addCell(label(text(label)));
        table.addCell(value(value));
        table.addCell(label(text(label2)));
        table.addCell(value(value2));
    }

    public void wide(PdfPTable table, String label, String value) {
        table.addCell(label(text(label)));
        table.addCell(across(value(value), 3));
    }

    public void wideExact(PdfPTable table, String label, String value) {
        table.addCell(label(text(label)));
        table.addCell(across(exact(value), 3));
    }

    public void add(PdfPTable table) {
        document.add(table);
    }

    public void newPage() {
        document.newPage();
    }

    public PdfPCell cell(String text, Font font) {
        return cell(new Phrase(type.clean(printed(text)), font), font.getSize());
    }

    public PdfPCell cell(Phrase phrase, float size) {
        PdfPCell cell = new PdfPCell(phrase);
        cell.setLeading(size * LEADING, 0);
        cell.setBorder(Rectangle.NO_BORDER);
        cell.setPadding(3);
        cell.setPaddingTop(1.5f);
        cell.setPaddingBottom(4);
        return cell;
    }

    public PdfPCell head(String text) {
        PdfPCell cell = cell(text, type.bold(SMALL, Color.WHITE));
        cell.setBackgroundColor(Ink.ACCENT);
        cell.setVerticalAlignment(Element.ALIGN_BOTTOM);
        return cell;
    }

    public PdfPCell underlined(PdfPCell cell) {
        cell.setBorder(Rectangle.BOTTOM);
        cell.setBorderColor(Ink.HAIRLINE);
        cell.setBorderWidth(0.5f);
        return cell;
    }

    public PdfPCell label(String text) {
        PdfPCell cell = cell(text, type.regular(SMALL, Ink.QUIET));
        cell.setPaddingLeft(0);
        cell.setPaddingTop(2.4f);
        return underlined(cell);
    }

    public PdfPCell value(String text) {
        return underlined(cell(text, type.regular(BODY, Ink.TEXT)));
    }

    /** For long lists. */
    public PdfPCell listed(String text) {
        PdfPCell cell = underlined(cell(text, type.regular(7, Ink.TEXT)));
        cell.setPaddingTop(0.4f);
        cell.setPaddingBottom(2);
        return cell;
    }

    /** For digests and identifiers, where every character counts. */
    public PdfPCell exact(String text) {
        return underlined(cell(text, type.mono(SMALL, Ink.TEXT)));
    }

    public PdfPCell across(PdfPCell cell, int columns) {
        cell.setColspan(columns);
        return cell;
    }
}

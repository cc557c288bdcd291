// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import com.lowagie.text.Chunk;
import com.lowagie.text.Element;
import com.lowagie.text.Font;
import com.lowagie.text.Image;
import com.lowagie.text.Phrase;
import com.lowagie.text.Rectangle;
import com.lowagie.text.pdf.PdfPCell;
import com.lowagie.text.pdf.PdfPTable;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.pdf.paper.Blocks;
import dev.loadwitness.reporter.pdf.paper.DigestCode;
import dev.loadwitness.reporter.pdf.paper.Ink;
import dev.loadwitness.reporter.pdf.paper.Symbol;
import dev.loadwitness.reporter.pdf.paper.Typeface;
import dev.loadwitness.reporter.pdf.paper.Words;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import java.awt.Color;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;
import java.util.Optional;
import java.util.stream.Collectors;
import java.util.stream.IntStream;
import java.util.stream.Stream;

/**
 * The one page for the customer: verdict, what was tested, what it means, four small charts, signature, cautions. Always
 * one page: long texts are shortened here and stand whole on the pages for the file, and the charts take what is left.
 */
final class FrontPage {
    private static final float GAP = 7;
    private static final float CODE = 64;
    private static final float CHART_LEAST = 66;
    /** Two rows are worth it only if their charts are not flat. */
    private static final float CHART_LEAST_OF_TWO = 76;

    private static final float CHART_MOST = 112;
    private static final float ANSWER = 8.2f;

    private final Blocks blocks;
    private final Verdict verdict;
    private final Header header;
    private final Optional<JobSheet> job;
    private final Facts facts;
    private final ReportOptions options;
    private final List<Integer> missing;
    private final ReportPdf.Places places;

    /**
     * @param missing characters that the fonts lack, as the first laying-out found them
     * @param places pages where more stands, found in the same way
     */
    FrontPage(
            Blocks blocks,
            Verdict verdict,
            Facts facts,
            ReportOptions options,
            List<Integer> missing,
            ReportPdf.Places places) {
        this.blocks = blocks;
        this.verdict = verdict;
        this.header = verdict.header();
        this.job = verdict.jobSheet();
        this.facts = facts;
        this.options = options;
        this.missing = missing;
        this.places = places;
    }

    void write(ChartPages charts) {
        List<PdfPTable> above = List.of();
        List<PdfPTable> below = below();
        PdfPTable drawn = null;
        // From roomy to tight; the last is taken as it is.
        for (int tightness = 0; tightness < 5; tightness++) {
            above = above(tightness < 2 ? 2 : 1, tightness < 3 ? 2 : 1, tightness < 4);
            boolean inOneRow = tightness == 1 || tightness >= 3;
            int rows = inOneRow ? 1 : 2;
            float left = blocks.room() - height(above) - height(below) - 6;
            float each = (left - rows * 4) / rows;
            if (each >= (inOneRow ? CHART_LEAST : CHART_LEAST_OF_TWO) || tightness == 4) {
                drawn = charts.small(inOneRow, Math.max(Math.min(each, CHART_MOST), 40));
                break;
            }
        }
        above.forEach(blocks::add);
        if (drawn != null) {
            blocks.add(drawn);
        }
        below.forEach(blocks::add);
    }

    private List<PdfPTable> above(int answerLines, int factLines, boolean withKeys) {
        List<PdfPTable> tables = new ArrayList<>();
        tables.add(letterhead());
        tables.add(verdictBox());
        List<Facts.Key> keys = withKeys ? facts.keys() : List.of();
        if (!keys.isEmpty()) {
            tables.add(keys(keys));
        }
        tables.add(heading("front.tested"));
        tables.add(tested(factLines));
        List<Answer> answers = Answer.of(verdict);
        tables.add(heading("front.means"));
        if (!answers.isEmpty()) {
            tables.add(answers(answers, answerLines));
        }
        tables.add(meaning());
        return tables;
    }

    private List<PdfPTable> below() {
        List<PdfPTable> tables = new ArrayList<>();
        tables.add(chartsNote());
        tables.add(signature());
        tables.add(cautions());
        return tables;
    }

    private float height(List<PdfPTable> tables) {
        float height = 0;
        for (PdfPTable table : tables) {
            table.setTotalWidth(blocks.width());
            table.calculateHeights(true);
            height += table.getTotalHeight() + table.spacingBefore() + table.spacingAfter();
        }
        return height;
    }

    private PdfPTable heading(String key) {
        PdfPTable table = blocks.headingTable(blocks.text(key), 10);
        table.setSpacingBefore(GAP);
        table.setSpacingAfter(2);
        return table;
    }

    private PdfPTable letterhead() {
        PdfPTable table = blocks.table(48, 52);
        Font shopFont = blocks.type.bold(10.5f, Ink.ACCENT);
        String shop = job.map(JobSheet::shop).filter(s -> !s.isBlank()).orElse(blocks.text("front.shop-open"));
        PdfPCell left = blocks.cell(blocks.fitted(shop, shopFont, blocks.width() * 0.48f - 8, 1), shopFont);
        left.setPaddingLeft(0);
        left.setVerticalAlignment(Element.ALIGN_BOTTOM);
        PdfPCell right = blocks.cell(
                blocks.text("frame.report", ReportPdf.number(verdict, options)) + "  ·  "
                        + blocks.text("front.issued", blocks.words.minute(options.issuedAt())),
                blocks.type.regular(Blocks.SMALL, Ink.QUIET));
        right.setHorizontalAlignment(Element.ALIGN_RIGHT);
        right.setVerticalAlignment(Element.ALIGN_BOTTOM);
        right.setPaddingRight(0);
        table.addCell(rule(left));
        table.addCell(rule(right));
        PdfPCell title =
                blocks.across(blocks.cell(ReportPdf.title(blocks.words, verdict), blocks.type.bold(22, Ink.TEXT)), 2);
        title.setPaddingLeft(0);
        title.setPaddingTop(6);
        title.setPaddingBottom(9);
        table.addCell(title);
        options.corrects().ifPresent(c -> {
            Font font = blocks.type.bold(BLOCK_LINE, Ink.TEXT);
            PdfPCell cell = blocks.across(
                    blocks.cell(
                            blocks.fitted(
                                    blocks.text("front.replaces", c.number(), c.reason()), font, blocks.width(), 2),
                            font),
                    2);
            cell.setPaddingLeft(0);
            cell.setPaddingTop(0);
            table.addCell(cell);
        });
        return table;
    }

    private static final float BLOCK_LINE = 8.6f;

    private static PdfPCell rule(PdfPCell cell) {
        cell.setBorder(Rectangle.BOTTOM);
        cell.setBorderColor(Ink.ACCENT);
        cell.setBorderWidth(1.2f);
        return cell;
    }

    /** The sign and the word are read from three metres; the sentence from one. */
    private PdfPTable verdictBox() {
        Outcome outcome = Words.ofRun(verdict.outcome());
        Color ink = Ink.of(outcome);
        String word = blocks.words.loud(outcome);
        float share = 0.36f;
        float size = Math.min(33, blocks.width() * share * 0.66f / blocks.type.bold.getWidthPoint(word, 1));
        PdfPTable table = blocks.table(share * 100, 100 - share * 100);
        PdfPTable loud = blocks.table(26, 74);
        Image sign = Symbol.of(blocks.writer.getDirectContent(), outcome, 30, Color.WHITE, ink);
        PdfPCell signCell = new PdfPCell(sign, false);
        signCell.setHorizontalAlignment(Element.ALIGN_RIGHT);
        PdfPCell wordCell = blocks.cell(word, blocks.type.bold(size, Color.WHITE));
        wordCell.setUseAscender(true);
        wordCell.setUseDescender(true);
        wordCell.setLeading(0, 1);
        wordCell.setPaddingTop(0);
        wordCell.setPaddingBottom(0);
        wordCell.setPaddingLeft(9);
        for (PdfPCell cell : List.of(signCell, wordCell)) {
            cell.setBorder(Rectangle.NO_BORDER);
            cell.setVerticalAlignment(Element.ALIGN_MIDDLE);
            cell.setMinimumHeight(62);
            loud.addCell(cell);
        }
        PdfPCell left = new PdfPCell(loud);
        left.setBackgroundColor(ink);
        left.setPadding(0);
        Font bold = blocks.type.bold(11, Ink.TEXT);
        Phrase phrase = new Phrase();
        phrase.add(new Phrase(
                blocks.fitted(blocks.words.figures(headline()), bold, blocks.width() * (1 - share) - 24, 4), bold));
        phrase.add(new Phrase("\n" + tally(), blocks.type.regular(Blocks.SMALL, Ink.QUIET)));
        PdfPCell sentence = blocks.cell(phrase, 11);
        sentence.setVerticalAlignment(Element.ALIGN_MIDDLE);
        sentence.setPadding(9);
        sentence.setUseAscender(true);
        for (PdfPCell cell : List.of(left, sentence)) {
            cell.setBorder(Rectangle.BOX);
            cell.setBorderColor(ink);
            cell.setBorderWidth(1.4f);
            table.addCell(cell);
        }
        return table;
    }

    /** Without the names of other criteria: the questions below say it in the customer's words. */
    private String headline() {
        return verdict.sentence().split(" (Also failed|Not measured): ", 2)[0];
    }

    /** What was held, how long and how hot, each beside what was asked. */
    private PdfPTable keys(List<Facts.Key> keys) {
        float[] shares = new float[keys.size()];
        Arrays.fill(shares, 1);
        PdfPTable table = blocks.table(shares);
        table.setSpacingBefore(5);
        float width = blocks.width() / keys.size() - 10;
        Font small = blocks.type.regular(Blocks.SMALL, Ink.QUIET);
        Font large = blocks.type.bold(13, Ink.TEXT);
        Font plain = blocks.type.regular(BLOCK_LINE, Ink.TEXT);
        for (Facts.Key key : keys) {
            Phrase phrase = new Phrase();
            phrase.add(new Phrase(blocks.fitted(key.label(), small, width, 1), small));
            phrase.add(new Phrase("\n" + blocks.fitted(key.value(), large, width, 1), large));
            phrase.add(new Phrase("\n" + blocks.fitted(key.against(), plain, width, 1), plain));
            PdfPCell cell = blocks.cell(phrase, BLOCK_LINE);
            cell.setLeading(0, 1.2f);
            cell.setPaddingLeft(5);
            cell.setPaddingTop(1);
            cell.setPaddingBottom(4);
            cell.setBorder(Rectangle.BOX);
            cell.setBorderColor(Ink.HAIRLINE);
            cell.setBorderWidth(0.7f);
            table.addCell(cell);
        }
        return table;
    }

    private PdfPTable chartsNote() {
        PdfPTable table = blocks.table(1);
        PdfPCell cell = blocks.cell(
                blocks.text("front.charts.note", Integer.toString(places.charts())),
                blocks.type.regular(6.9f, Ink.QUIET));
        cell.setPadding(0);
        table.addCell(cell);
        return table;
    }

    /** {@code Of 9 criteria: 8 pass, 1 fail.} */
    private String tally() {
        if (verdict.findings().isEmpty()) {
            return blocks.text("front.tally.none");
        }
        String counts = Stream.of(Outcome.values())
                .map(o -> {
                    long count = verdict.findings().stream()
                            .map(Finding::outcome)
                            .filter(o::equals)
                            .count();
                    return count == 0 ? "" : count + " " + blocks.words.loud(o);
                })
                .filter(text -> !text.isEmpty())
                .collect(Collectors.joining(", "));
        return blocks.text("front.tally", Integer.toString(verdict.findings().size()), counts);
    }

    private PdfPTable tested(int lines) {
        PdfPTable table = blocks.table(15, 85);
        row(table, "front.machine", facts.machineAndSerial(), lines);
        row(table, "front.customer", facts.customerAndTicket(), 1);
        row(table, "front.repair", facts.workDone(), lines);
        row(table, "front.test", facts.test(), lines);
        row(table, "front.attempts", facts.attempt(), lines);
        return table;
    }

    private void row(PdfPTable table, String label, String value, int lines) {
        table.addCell(blocks.label(blocks.text(label)));
        Font font = blocks.type.regular(BLOCK_LINE, Ink.TEXT);
        PdfPCell cell =
                blocks.underlined(blocks.cell(blocks.fitted(value, font, blocks.width() * 0.85f - 8, lines), font));
        cell.setPaddingTop(1);
        cell.setPaddingBottom(3);
        table.addCell(cell);
    }

    private PdfPTable answers(List<Answer> answers, int lines) {
        PdfPTable table = blocks.table(3.4f, 29, 67.6f);
        for (Answer answer : answers) {
            Color ink = Ink.of(answer.outcome());
            PdfPCell sign = new PdfPCell(
                    Symbol.of(blocks.writer.getDirectContent(), answer.outcome(), 9.4f, ink, Color.WHITE), false);
            sign.setPadding(0);
            sign.setPaddingTop(2.2f);
            sign.setBorder(Rectangle.NO_BORDER);
            table.addCell(sign);
            PdfPCell question = blocks.cell(blocks.text(answer.questionKey()), blocks.type.bold(ANSWER, Ink.TEXT));
            question.setPaddingTop(1);
            question.setPaddingBottom(2);
            table.addCell(question);
            String word = blocks.text(answer.key()) + ".  ";
            Font bold = blocks.type.bold(ANSWER, ink);
            Font plain = blocks.type.regular(ANSWER, Ink.TEXT);
            // The word takes its part of the first line.
            String fitted = blocks.fitted(
                    word + blocks.words.figures(answer.because()), plain, blocks.width() * 0.676f - 12, lines);
            Phrase phrase = new Phrase();
            phrase.add(new Chunk(word, bold));
            phrase.add(new Chunk(fitted.substring(Math.min(word.length(), fitted.length())), plain));
            PdfPCell text = blocks.cell(phrase, ANSWER);
            text.setPaddingTop(1);
            text.setPaddingBottom(2);
            table.addCell(text);
        }
        return table;
    }

    private PdfPTable meaning() {
        PdfPTable table = blocks.table(1);
        String outcome =
                facts.damaged() ? "damaged" : Words.ofRun(verdict.outcome()).word();
        PdfPCell cell = blocks.cell(blocks.text("front.means." + outcome), blocks.type.regular(BLOCK_LINE, Ink.TEXT));
        cell.setPaddingLeft(0);
        cell.setPaddingTop(3);
        cell.setPaddingBottom(2);
        table.addCell(cell);
        table.setSpacingAfter(4);
        return table;
    }

    /** Who answers for it, on paper and in the file; and what ties this paper to the log. */
    private PdfPTable signature() {
        PdfPTable outer = blocks.table(100);
        outer.setSpacingBefore(4);
        PdfPTable table = blocks.table(37, 49, 14);
        table.addCell(handSignature());
        table.addCell(digests());
        Image code = DigestCode.of(blocks.writer.getDirectContent(), verdict.logSha256(), CODE);
        PdfPCell codeCell = verdict.logSha256().isEmpty() ? new PdfPCell() : new PdfPCell(code, false);
        codeCell.setBorder(Rectangle.NO_BORDER);
        codeCell.setHorizontalAlignment(Element.ALIGN_RIGHT);
        codeCell.setVerticalAlignment(Element.ALIGN_MIDDLE);
        codeCell.setPadding(0);
        table.addCell(codeCell);
        PdfPCell box = new PdfPCell(table);
        box.setBorder(Rectangle.BOX);
        box.setBorderColor(Ink.QUIET);
        box.setBorderWidth(0.7f);
        box.setPadding(5);
        outer.addCell(box);
        return outer;
    }

    private PdfPCell handSignature() {
        PdfPTable inner = blocks.table(1);
        PdfPCell label = blocks.cell(
                blocks.text("front.authorised", blocks.words.loud(Words.ofRun(verdict.outcome()))),
                blocks.type.bold(BLOCK_LINE, Ink.TEXT));
        label.setPaddingBottom(30);
        inner.addCell(label);
        Font small = blocks.type.regular(Blocks.SMALL, Ink.QUIET);
        String technician = blocks.text("front.technician", facts.authorisedBy());
        String under = header.simulated() ? blocks.text("front.not-to-be-signed") : blocks.text("front.sign-here");
        PdfPCell line = blocks.cell(blocks.fitted(technician, small, blocks.width() * 0.34f, 1) + "\n" + under, small);
        line.setBorder(Rectangle.TOP);
        line.setBorderColor(Ink.TEXT);
        line.setBorderWidth(0.7f);
        inner.addCell(line);
        PdfPCell cell = new PdfPCell(inner);
        cell.setBorder(Rectangle.NO_BORDER);
        cell.setPaddingRight(14);
        return cell;
    }

    private PdfPCell digests() {
        PdfPTable inner = blocks.table(1);
        Font small = blocks.type.regular(Blocks.SMALL, Ink.QUIET);
        List<String> digests = verdict.logSha256();
        inner.addCell(tight(blocks.cell(
                digests.size() > 1
                        ? blocks.text("front.digest.one-of", "1", Integer.toString(digests.size()))
                        : blocks.text("front.digest"),
                small)));
        inner.addCell(tight(blocks.cell(
                digests.isEmpty() ? blocks.text("open.not-stated") : inGroups(digests.get(0)),
                blocks.type.mono(6.6f, Ink.TEXT))));
        if (options.signer().isPresent()) {
            ReportOptions.Signer signer = options.signer().get();
            inner.addCell(tight(blocks.cell(
                    blocks.fitted(blocks.text("front.signer", signer.name()), small, blocks.width() * 0.47f - 12, 3),
                    small)));
            inner.addCell(tight(blocks.cell(inGroups(signer.fingerprint()), blocks.type.mono(6.6f, Ink.TEXT))));
        } else {
            inner.addCell(tight(blocks.cell(blocks.text("front.unsigned"), blocks.type.bold(Blocks.SMALL, Ink.TEXT))));
        }
        String check = blocks.text(
                options.signer().isPresent() ? "front.check.signed" : "front.check.unsigned",
                Integer.toString(places.check()));
        inner.addCell(tight(blocks.cell(check, blocks.type.regular(Blocks.SMALL, Ink.TEXT))));
        PdfPCell cell = new PdfPCell(inner);
        cell.setBorder(Rectangle.NO_BORDER);
        return cell;
    }

    private static PdfPCell tight(PdfPCell cell) {
        cell.setPadding(0);
        cell.setPaddingBottom(2.4f);
        return cell;
    }

    /** Two lines of four groups of eight: people compare digits in small groups. */
    private static String inGroups(String digest) {
        return IntStream.range(0, (digest.length() + 7) / 8)
                .mapToObj(i -> digest.substring(8 * i, Math.min(8 * i + 8, digest.length())) + (i == 3 ? "\n" : " "))
                .collect(Collectors.joining())
                .strip();
    }

    private PdfPTable cautions() {
        PdfPTable table = blocks.table(50, 50);
        table.setSpacingBefore(5);
        Font small = blocks.type.regular(6.9f, Ink.TEXT);
        PdfPCell head =
                blocks.across(blocks.cell(blocks.text("front.cautions"), blocks.type.bold(Blocks.SMALL, Ink.TEXT)), 2);
        head.setPadding(0);
        head.setPaddingBottom(2);
        table.addCell(head);
        for (int i = 1; i <= 4; i++) {
            PdfPCell cell = blocks.cell(blocks.text("front.caution." + i), small);
            cell.setPadding(0);
            cell.setPaddingBottom(2.2f);
            cell.setPaddingRight(i % 2 == 1 ? 8 : 0);
            cell.setPaddingLeft(i % 2 == 1 ? 0 : 4);
            table.addCell(cell);
        }
        String marks = blocks.text("front.marks");
        if (!missing.isEmpty()) {
            marks += "  " + blocks.text("front.missing", Typeface.named(missing));
        }
        Font quiet = blocks.type.regular(6.9f, Ink.QUIET);
        PdfPCell note = blocks.across(blocks.cell(blocks.fitted(marks, quiet, blocks.width() - 4, 2), quiet), 2);
        note.setPadding(0);
        note.setPaddingTop(2);
        table.addCell(note);
        return table;
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import com.lowagie.text.Document;
import com.lowagie.text.pdf.PdfWriter;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.pdf.chart.Course;
import dev.loadwitness.reporter.pdf.paper.Archive;
import dev.loadwitness.reporter.pdf.paper.Blocks;
import dev.loadwitness.reporter.pdf.paper.PageFrame;
import dev.loadwitness.reporter.pdf.paper.Typeface;
import dev.loadwitness.reporter.pdf.paper.Words;
import dev.loadwitness.reporter.verdict.Verdict;
import java.io.ByteArrayOutputStream;
import java.nio.charset.StandardCharsets;
import java.security.MessageDigest;
import java.security.NoSuchAlgorithmException;
import java.time.ZoneOffset;
import java.time.format.DateTimeFormatter;
import java.util.HexFormat;
import java.util.List;
import java.util.Locale;
import java.util.function.Supplier;
import java.util.regex.Pattern;

/**
 * Lays a verdict out as the report that goes into the customer's box and file: one page for the customer, then pages for
 * the file; PDF/A-3b, all fonts inside, unsigned. It decides and computes nothing about the machine. The same arguments
 * give the same bytes on every machine.
 */
public final class ReportPdf {
    private static final Pattern PLAIN = Pattern.compile("[\\p{L}\\p{N} _#-]{1,100}");

    private final Verdict verdict;
    private final Course course;
    private final Words words;
    private final ReportOptions options;

    private ReportPdf(Verdict verdict, Course course, Words words, ReportOptions options) {
        this.verdict = verdict;
        this.course = course;
        this.words = words;
        this.options = options;
    }

    /**
     * The finished file.
     *
     * @throws IllegalArgumentException if no way of writing dates and numbers is {@link #knows known} for the locale
     */
    public static byte[] write(Verdict verdict, Course course, ReportOptions options) {
        return write(verdict, course, Words.of(options.locale()), options);
    }

    public static byte[] write(Verdict verdict, Course course, Words words, ReportOptions options) {
        ReportPdf report = new ReportPdf(verdict, course, words, options);
        return inRootLocale(() -> {
            // Twice, because every page says how many there are, and the first names characters that the fonts lack and
            // pages where more stands. The files inside change none of it.
            Layout counted = report.lay(new Layout(new byte[0], 0, List.of(), Places.UNKNOWN), false);
            return report.lay(counted, true).bytes;
        });
    }

    /** Whether dates and numbers can be written as this locale does. */
    public static boolean knows(Locale locale) {
        return Words.knows(locale);
    }

    /** The locales that are known, as language tags. */
    public static String knownLocales() {
        return Words.known();
    }

    /**
     * The report's own number: its day of issue, and eight digits that follow from what it is about. The same run issued
     * again at another second, or as a correction, has another number.
     */
    public static String number(Verdict verdict, ReportOptions options) {
        String day = DateTimeFormatter.ofPattern("uuuuMMdd", Locale.ROOT)
                .withZone(ZoneOffset.UTC)
                .format(options.issuedAt());
        String digest = HexFormat.of().formatHex(identityDigest(verdict, options));
        return day + "-" + digest.substring(0, 8).toUpperCase(Locale.ROOT);
    }

    /** SHA-256 over what makes this report another one than the next. */
    static byte[] identityDigest(Verdict verdict, ReportOptions options) {
        try {
            MessageDigest sha = MessageDigest.getInstance("SHA-256");
            for (String part : List.of(
                    verdict.header().runId(),
                    verdict.lastChain(),
                    verdict.outcome().word(),
                    Long.toString(options.issuedAt().getEpochSecond()),
                    options.corrects().map(ReportOptions.Correction::number).orElse(""))) {
                sha.update(part.getBytes(StandardCharsets.UTF_8));
                sha.update((byte) 0);
            }
            return sha.digest();
        } catch (NoSuchAlgorithmException e) {
            throw new IllegalStateException("every Java runtime has SHA-256", e);
        }
    }

    /**
     * OpenPDF 2.0.5 writes the cross-reference table with the digits of the default locale, which breaks the file where
     * those are not 0 to 9. The default is put back afterwards.
     */
    private static synchronized byte[] inRootLocale(Supplier<byte[]> work) {
        Locale before = Locale.getDefault(Locale.Category.FORMAT);
        Locale.setDefault(Locale.Category.FORMAT, Locale.ROOT);
        try {
            return work.get();
        } finally {
            Locale.setDefault(Locale.Category.FORMAT, before);
        }
    }

    /** The title: only a real pass is a certificate. */
    static String title(Words words, Verdict verdict) {
        if (verdict.outcome() == Outcome.PASS) {
            return words.text(verdict.header().simulated() ? "title.simulated" : "title.pass");
        }
        return words.text(verdict.outcome() == Outcome.FAIL ? "title.fail" : "title.inconclusive");
    }

    private String identity() {
        return identity(verdict.header().runId(), verdict.header().ticket());
    }

    /**
     * The same for the metadata. They lie in the file as they are, also after a signature was added; so a text that is not
     * plain stands on the pages only, lest it be taken for words of the file itself.
     */
    private String identityInMetadata() {
        return identity(plain(verdict.header().runId()), plain(verdict.header().ticket()));
    }

    private static String plain(String text) {
        return PLAIN.matcher(text).matches() ? text : "";
    }

    private String identity(String run, String ticket) {
        // The number first: it is unique, and a long ticket cannot push it off the page.
        return words.text("frame.report", number(verdict, options))
                + (run.isBlank() ? "" : "  ·  " + words.text("frame.run", run))
                + (ticket.isBlank() ? "" : "  ·  " + words.text("frame.ticket", ticket));
    }

    private Layout lay(Layout counted, boolean complete) {
        Typeface type = new Typeface();
        ByteArrayOutputStream out = new ByteArrayOutputStream();
        // Room at the left for a punched sheet.
        Document document = new Document(options.paper().size, 56, 45, 44, 50);
        PdfWriter writer = PdfWriter.getInstance(document, out);
        String title = title(words, verdict);
        Archive archive = new Archive(writer, title, identityInMetadata(), words.language(), options.issuedAt());
        archive.before(identityDigest(verdict, options));
        writer.setStrictImageSequence(true);
        writer.setPageEvent(
                new PageFrame(type, words, title, identity(), verdict.header().simulated(), counted.pages));
        document.open();
        archive.opened();
        Blocks blocks = new Blocks(document, writer, type, words);
        Facts facts = new Facts(words, verdict, course);
        ChartPages charts = new ChartPages(blocks, course, !complete);
        new FrontPage(blocks, verdict, facts, options, counted.missing, counted.places).write(charts);
        new JobPages(blocks, verdict, facts, options).write();
        new CriteriaPages(blocks, verdict, course, facts).write();
        int chartsPage = charts.write();
        new HandPages(blocks, verdict.jobSheet()).write();
        int checkPage = new ClosingPages(blocks, verdict, course, options).write();
        if (complete) {
            archive.embed(options.embedded(), file -> words.text(file.kind().key));
        }
        int count = writer.getPageNumber();
        document.close();
        return new Layout(out.toByteArray(), count, type.missing(), new Places(chartsPage, checkPage));
    }

    @SuppressWarnings("ArrayRecordComponent") // never compared
    private record Layout(byte[] bytes, int pages, List<Integer> missing, Places places) {}

    /** Pages that the first one names. */
    record Places(int charts, int check) {
        /** Until everything was laid out once. */
        static final Places UNKNOWN = new Places(0, 0);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import com.lowagie.text.Document;
import com.lowagie.text.PageSize;
import com.lowagie.text.pdf.PdfWriter;
import dev.loadwitness.reporter.criteria.Outcome;
import dev.loadwitness.reporter.scan.Mark;
import dev.loadwitness.reporter.scan.Series;
import dev.loadwitness.reporter.scan.StageSpan;
import dev.loadwitness.reporter.verdict.Verdict;
import java.io.ByteArrayOutputStream;
import java.util.List;
import java.util.Locale;
import java.util.function.Supplier;

/**
 * Lays a verdict out as the report that goes into the customer's file: A4, all fonts inside, unsigned. It decides and
 * computes nothing about the machine. The same arguments give the same bytes on every machine.
 */
public final class ReportPdf {
    private final Verdict verdict;
    private final List<Series> series;
    private final List<StageSpan> stages;
    private final List<Mark> marks;
    private final ReportOptions options;

    private ReportPdf(
            Verdict verdict, List<Series> series, List<StageSpan> stages, List<Mark> marks, ReportOptions options) {
        this.verdict = verdict;
        this.series = List.copyOf(series);
        this.stages = List.copyOf(stages);
        this.marks = List.copyOf(marks);
        this.options = options;
    }

    /**
     * The finished file.
     *
     * @param series for the charts; channels of kinds that no chart shows are passed over
     */
    public static byte[] write(
            Verdict verdict, List<Series> series, List<StageSpan> stages, List<Mark> marks, ReportOptions options) {
        ReportPdf report = new ReportPdf(verdict, series, stages, marks, options);
        return inRootLocale(() -> {
            // Twice, because every page says how many there are. The files inside do not change that.
            Layout counted = report.lay(0, false);
            return report.lay(counted.pages, true).bytes;
        });
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
    static String title(Verdict verdict) {
        if (verdict.outcome() == Outcome.PASS) {
            return verdict.header().simulated() ? "Burn-in report: SIMULATED RUN" : "Burn-in certificate";
        }
        return "Burn-in report: " + (verdict.outcome() == Outcome.FAIL ? "FAILED" : "INCONCLUSIVE");
    }

    private static String identity(Verdict verdict) {
        // The run first: it is unique, and a long ticket cannot push it off the page.
        String ticket = verdict.header().ticket();
        return "Run " + verdict.header().runId() + (ticket.isBlank() ? "" : "  ·  Ticket " + ticket);
    }

    private Layout lay(int pages, boolean complete) {
        Typeface type = new Typeface();
        ByteArrayOutputStream out = new ByteArrayOutputStream();
        Document document = new Document(PageSize.A4, 62, 45, 50, 54);
        PdfWriter writer = PdfWriter.getInstance(document, out);
        Archive archive = new Archive(writer, title(verdict), identity(verdict), options.issuedAt());
        archive.before(verdict);
        writer.setStrictImageSequence(true);
        writer.setPageEvent(new PageFrame(
                type, title(verdict), identity(verdict), verdict.header().simulated(), pages));
        document.open();
        archive.opened();
        Blocks blocks = new Blocks(document, writer, type);
        new FrontPage(blocks, verdict, options).write();
        new CriteriaPages(blocks, verdict).write();
        new ChartPages(blocks, writer, series, stages, marks).write();
        new ClosingPages(blocks, verdict, options).write();
        if (complete) {
            archive.embed(options.embedded());
        }
        int count = writer.getPageNumber();
        document.close();
        return new Layout(out.toByteArray(), count);
    }

    @SuppressWarnings("ArrayRecordComponent") // never compared
    private record Layout(byte[] bytes, int pages) {}
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import com.lowagie.text.Element;
import com.lowagie.text.Phrase;
import com.lowagie.text.pdf.PdfPCell;
import com.lowagie.text.pdf.PdfPTable;
import dev.loadwitness.reporter.pdf.chart.Course;
import dev.loadwitness.reporter.pdf.paper.Blocks;
import dev.loadwitness.reporter.pdf.paper.EmbeddedFile;
import dev.loadwitness.reporter.pdf.paper.Ink;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.yaml.Measure;
import java.util.List;
import java.util.Map;
import java.util.stream.Collectors;
import java.util.stream.IntStream;

/** Sensors, machine, method, what cannot be seen, what the report rests on: the end of the report. */
final class ClosingPages {
    private static final int BENCH_CAUTIONS = 2;

    private final Blocks blocks;
    private final Verdict verdict;
    private final Course course;
    private final ReportOptions options;
    private int steps;

    ClosingPages(Blocks blocks, Verdict verdict, Course course, ReportOptions options) {
        this.blocks = blocks;
        this.verdict = verdict;
        this.course = course;
        this.options = options;
    }

    /** Gives the page that says how to check the report. */
    int write() {
        sensors();
        facts();
        method();
        blocks.heading(blocks.text("unseen.heading"));
        blocks.paragraph(blocks.text("unseen.text"));
        blocks.heading(blocks.text("bench.heading"));
        blocks.bullets(IntStream.rangeClosed(1, BENCH_CAUTIONS)
                .mapToObj(i -> blocks.text("bench.caution." + i))
                .toList());
        blocks.heading(blocks.text("check.heading"));
        int page = blocks.writer.getPageNumber();
        check();
        evidence();
        return page;
    }

    /** Step by step, for whoever disputes the report and has none of our programs. */
    private void check() {
        blocks.paragraph(blocks.text("check.intro"));
        PdfPTable table = blocks.table(4, 96);
        boolean signed = options.signer().isPresent();
        if (signed) {
            step(table, "check.reader");
            step(table, "check.pdfsig", "pdfsig -nocert report.pdf");
            step(
                    table,
                    "check.fingerprint",
                    "pdfsig -dump report.pdf",
                    "openssl pkcs7 -inform DER -in report.pdf.sig0 -print_certs -out signer.pem",
                    "openssl x509 -in signer.pem -noout -fingerprint -sha256");
        } else {
            step(table, "check.unsigned");
        }
        List<String> logs = options.embedded().stream()
                .filter(f -> f.kind() == EmbeddedFile.Kind.RUN_LOG || f.kind() == EmbeddedFile.Kind.RUN_LOG_PART)
                .map(EmbeddedFile::name)
                .toList();
        if (!logs.isEmpty()) {
            step(table, "check.digest", "pdfdetach -saveall report.pdf", "sha256sum " + String.join(" ", logs));
        }
        step(
                table,
                signed ? "check.verify" : "check.verify.unsigned",
                "loadwitness-reporter verify report.pdf"
                        + options.signer()
                                .map(s -> " --fingerprint " + s.fingerprint())
                                .orElse(""));
        blocks.add(table);
    }

    private void step(PdfPTable table, String key, String... commands) {
        steps++;
        PdfPCell number = blocks.cell(steps + ".", blocks.type.bold(Blocks.BODY, Ink.TEXT));
        number.setPaddingLeft(0);
        table.addCell(number);
        Phrase phrase = new Phrase();
        phrase.add(new Phrase(blocks.type.clean(blocks.text(key)), blocks.type.regular(Blocks.BODY, Ink.TEXT)));
        for (String command : commands) {
            phrase.add(new Phrase("\n" + command, blocks.type.mono(Blocks.SMALL, Ink.TEXT)));
        }
        table.addCell(blocks.cell(phrase, Blocks.BODY));
    }

    private void sensors() {
        blocks.heading(blocks.text("sensors.heading"));
        if (course.channels().isEmpty()) {
            blocks.paragraph(blocks.text("sensors.none"));
            return;
        }
        PdfPTable table = blocks.columns(
                List.of(
                        "sensors.column.channel",
                        "sensors.column.part",
                        "sensors.column.source",
                        "sensors.column.step",
                        "sensors.column.u"),
                35,
                25,
                20,
                10,
                10);
        for (Channel channel : course.channels()) {
            table.addCell(blocks.listed(channel.id()));
            table.addCell(blocks.listed(blocks.words.role(channel.role())
                    + (channel.label().isBlank() ? "" : " (" + channel.label() + ")")));
            table.addCell(blocks.listed(channel.source()));
            table.addCell(blocks.listed(quality(channel.resolution(), channel.metric())));
            table.addCell(blocks.listed(quality(channel.standardUncertainty(), channel.metric())));
        }
        blocks.add(table);
        blocks.quiet(blocks.text("sensors.note"));
    }

    private String quality(double value, Metric metric) {
        if (!Double.isFinite(value)) {
            return blocks.text("open.unknown");
        }
        return switch (metric.unit()) {
            case "Cel" -> blocks.words.number(value, "°C");
            case "Hz", "J", "W", "V" -> blocks.words.scaled(value, metric.unit());
            case "1" -> blocks.words.number(value, "");
            default -> blocks.words.number(value, metric.unit().replaceAll("[{}]", ""));
        };
    }

    private void facts() {
        blocks.heading(blocks.text("facts.heading"));
        Map<String, Map<String, String>> facts = verdict.header().facts();
        if (facts.isEmpty()) {
            blocks.paragraph(blocks.text("facts.none"));
        } else {
            PdfPTable table = blocks.table(17, 83);
            facts.forEach((group, named) -> {
                String shown = named.entrySet().stream()
                        .filter(e -> !withheld(group, e.getKey()))
                        .map(e -> e.getKey() + " " + blocks.words.stated(e.getValue()))
                        .collect(Collectors.joining("; "));
                if (!shown.isEmpty()) {
                    table.addCell(blocks.label(group));
                    table.addCell(blocks.value(shown));
                }
            });
            blocks.add(table);
        }
        if (!verdict.header().withheld().isEmpty()) {
            blocks.quiet(blocks.text(
                    "facts.withheld", String.join(", ", verdict.header().withheld())));
        }
    }

    private boolean withheld(String group, String name) {
        return verdict.header().withheld().contains(group)
                || verdict.header().withheld().contains(name);
    }

    private void method() {
        blocks.heading(blocks.text("method.heading"));
        blocks.paragraph(blocks.text("method.text"));
        double seconds = verdict.procedure().samplingPeriod().toNanos() / 1e9;
        blocks.paragraph(blocks.text("method.sampling", blocks.words.figures(Measure.DURATION.write(seconds))) + " "
                + blocks.text("method.source"));
    }

    private void evidence() {
        blocks.heading(blocks.text("evidence.heading"));
        PdfPTable table = blocks.table(22, 78);
        int number = 0;
        for (String digest : verdict.logSha256()) {
            number++;
            exact(
                    table,
                    verdict.logSha256().size() == 1
                            ? blocks.text("evidence.log")
                            : blocks.text("evidence.log.part", Integer.toString(number)),
                    digest);
        }
        if (verdict.logSha256().isEmpty()) {
            exact(table, blocks.text("evidence.log"), blocks.text("open.not-stated"));
        }
        exact(table, blocks.text("evidence.chain"), blocks.words.stated(verdict.lastChain()));
        exact(
                table,
                blocks.text("evidence.procedure"),
                verdict.header().procedure().sha256());
        exact(
                table,
                blocks.text("evidence.sheet"),
                verdict.header().jobSheet().map(Attachment::sha256).orElse(blocks.text("evidence.sheet.none")));
        for (EmbeddedFile file : options.embedded()) {
            table.addCell(blocks.label(blocks.text("evidence.inside")));
            table.addCell(blocks.value(blocks.text(
                    "evidence.file",
                    file.name(),
                    blocks.text(file.kind().key),
                    blocks.words.count(file.bytes().length))));
        }
        options.signer().ifPresent(signer -> {
            table.addCell(blocks.label(blocks.text("evidence.signer")));
            table.addCell(blocks.value(signer.name()));
            exact(table, blocks.text("evidence.fingerprint"), signer.fingerprint());
        });
        blocks.add(table);
        if (options.signer().isEmpty()) {
            blocks.paragraph(blocks.text("front.unsigned"));
        }
        blocks.quiet(blocks.text("evidence.chain.note"));
        blocks.paragraph(blocks.text("evidence.cannot"));
        blocks.quiet(blocks.text("evidence.form.note"));
        PdfPTable end = blocks.table(1);
        PdfPCell cell = blocks.cell(
                blocks.text("end", ReportPdf.number(verdict, options)), blocks.type.bold(Blocks.SMALL, Ink.QUIET));
        cell.setHorizontalAlignment(Element.ALIGN_CENTER);
        cell.setPaddingTop(10);
        end.addCell(cell);
        blocks.add(end);
    }

    private void exact(PdfPTable table, String label, String value) {
        table.addCell(blocks.label(label));
        table.addCell(blocks.exact(value));
    }
}

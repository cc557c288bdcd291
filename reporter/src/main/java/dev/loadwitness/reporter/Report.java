// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.reporter.pdf.ReportOptions;
import dev.loadwitness.reporter.pdf.ReportPdf;
import dev.loadwitness.reporter.pdf.chart.Course;
import dev.loadwitness.reporter.pdf.paper.EmbeddedFile;
import dev.loadwitness.reporter.pdf.paper.Paper;
import dev.loadwitness.reporter.text.ReportJson;
import dev.loadwitness.reporter.text.VerdictJson;
import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.Word;
import dev.loadwitness.runlog.command.Complaint;
import java.io.IOException;
import java.util.ArrayList;
import java.util.List;
import java.util.Locale;
import java.util.Optional;

/** Makes the pages of a report: for {@code certify} to write them, for {@code verify} to make them again and compare. */
final class Report {
    private Report() {}

    /** The unsigned file, with everything inside that it was made from. The judgement must have kept its series. */
    static byte[] pdf(Judgement judgement, Inputs inputs, ReportOptions options) throws Complaint {
        List<EmbeddedFile> inside = new ArrayList<>(inputs.evidence(judgement, VerdictJson.write(judgement.verdict())));
        ReportJson facts = new ReportJson(
                ReportPdf.number(judgement.verdict(), options),
                options.issuedAt(),
                options.program(),
                options.paper().word(),
                options.locale().toLanguageTag(),
                options.corrects().map(ReportOptions.Correction::number).orElse(""),
                options.corrects().map(ReportOptions.Correction::reason).orElse(""),
                options.signer().map(ReportOptions.Signer::name).orElse(""),
                options.signer().map(ReportOptions.Signer::fingerprint).orElse(""));
        inside.add(new EmbeddedFile(Inputs.Evidence.REPORT, EmbeddedFile.Kind.REPORT, facts.write()));
        return ReportPdf.write(judgement.verdict(), Course.of(judgement.scan()), options.holding(inside));
    }

    /** What the signature gives as its reason. */
    static String reason(Verdict verdict, ReportOptions options) {
        return "Burn-in report " + ReportPdf.number(verdict, options);
    }

    /** How a report says it was laid out. */
    static ReportOptions options(ReportJson facts) throws IOException {
        Locale locale = Locale.forLanguageTag(facts.locale());
        Optional<Paper> paper = Word.find(Paper.class, facts.paper());
        if (paper.isEmpty() || !ReportPdf.knows(locale)) {
            throw new IOException("it names a paper or a locale that this version does not know");
        }
        return ReportOptions.issuedAt(facts.issuedAt())
                .by(facts.program())
                .on(paper.get())
                .in(locale)
                .correcting(
                        facts.replaces().isEmpty()
                                ? Optional.empty()
                                : Optional.of(new ReportOptions.Correction(facts.replaces(), facts.reason())))
                .signedBy(
                        facts.fingerprint().isEmpty()
                                ? Optional.empty()
                                : Optional.of(new ReportOptions.Signer(facts.signer(), facts.fingerprint())));
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.paper;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.pdf.ReportOptions;
import dev.loadwitness.reporter.pdf.ReportPdf;
import dev.loadwitness.reporter.pdf.ReportPdfTest;
import dev.loadwitness.reporter.pdf.chart.Course;
import dev.loadwitness.reporter.signature.PdfSigner;
import dev.loadwitness.reporter.signature.SigningKey;
import dev.loadwitness.reporter.text.VerdictExamples;
import dev.loadwitness.reporter.text.VerdictJson;
import dev.loadwitness.reporter.verdict.Verdict;
import java.io.ByteArrayInputStream;
import java.nio.charset.StandardCharsets;
import java.security.SecureRandom;
import java.time.Duration;
import java.time.Instant;
import java.util.List;
import java.util.Locale;
import java.util.Optional;
import org.junit.jupiter.api.BeforeAll;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.EnumSource;
import org.verapdf.gf.foundry.VeraGreenfieldFoundryProvider;
import org.verapdf.pdfa.Foundries;
import org.verapdf.pdfa.PDFAParser;
import org.verapdf.pdfa.PDFAValidator;
import org.verapdf.pdfa.flavours.PDFAFlavour;
import org.verapdf.pdfa.results.ValidationResult;

/** PDF/A-3b (ISO 19005-3), as veraPDF judges it: the validator of the PDF Association, version in the root's pom. */
final class ArchiveTest {
    private static final Instant ISSUED = Instant.parse("2026-11-25T14:03:20Z");

    @BeforeAll
    static void start() {
        VeraGreenfieldFoundryProvider.initialise();
    }

    @ParameterizedTest
    @EnumSource
    void everyKindOfReportIsAnArchivalFile(ReportPdfTest.Variant variant) throws Exception {
        assertConforms(written(variant.verdict, variant.course(), Paper.A4, Locale.ENGLISH));
    }

    @Test
    void letterPaperAndAnotherLocaleAreArchivalToo() throws Exception {
        assertConforms(written(
                VerdictExamples.fail(), ReportPdfTest.Variant.ordinary(), Paper.LETTER, Locale.forLanguageTag("de")));
    }

    @Test
    void signedReportStaysAnArchivalFile() throws Exception {
        SigningKey key = SigningKey.createSelfSigned(
                "Fernhollow Board Repair",
                "Fernhollow Board Repair",
                ISSUED.minus(Duration.ofDays(1)),
                Duration.ofDays(365),
                new SecureRandom());
        byte[] unsigned = written(VerdictExamples.pass(), ReportPdfTest.Variant.ordinary(), Paper.A4, Locale.ENGLISH);

        assertConforms(PdfSigner.sign(unsigned, key, ISSUED, "Burn-in report"));
    }

    @Test
    void validatorSeesWhatIsMissing() throws Exception {
        byte[] report = ReportPdfTest.Variant.PASS.write();
        // Same length, so that nothing but the claim's condition breaks: the file names no colour profile.
        String broken = new String(report, StandardCharsets.ISO_8859_1).replace("/OutputIntents", "/OutputIntentx");

        assertThat(validated(broken.getBytes(StandardCharsets.ISO_8859_1)).isCompliant())
                .isFalse();
    }

    private static byte[] written(Verdict verdict, Course course, Paper paper, Locale locale) {
        byte[] log = "{\"type\":\"header\"}\n".getBytes(StandardCharsets.UTF_8);
        return ReportPdf.write(
                verdict,
                course,
                ReportOptions.issuedAt(ISSUED)
                        .on(paper)
                        .in(locale)
                        .signedBy(Optional.of(new ReportOptions.Signer("CN=Fernhollow Board Repair", "0".repeat(64))))
                        .holding(List.of(
                                new EmbeddedFile("run.jsonl", EmbeddedFile.Kind.RUN_LOG, log),
                                new EmbeddedFile("job-sheet.yaml", EmbeddedFile.Kind.JOB_SHEET, log),
                                new EmbeddedFile(
                                        "verdict.json", EmbeddedFile.Kind.VERDICT, VerdictJson.write(verdict)))));
    }

    private static void assertConforms(byte[] pdf) throws Exception {
        ValidationResult result = validated(pdf);

        assertThat(result.getTestAssertions()).as("rules broken").isEmpty();
        assertThat(result.isCompliant()).isTrue();
        assertThat(result.getPDFAFlavour()).isEqualTo(PDFAFlavour.PDFA_3_B);
        assertThat(result.getTotalAssertions()).as("checks made").isGreaterThan(1000);
    }

    private static ValidationResult validated(byte[] pdf) throws Exception {
        // By the flavour that the file itself claims.
        try (PDFAParser parser = Foundries.defaultInstance().createParser(new ByteArrayInputStream(pdf));
                PDFAValidator validator = Foundries.defaultInstance().createValidator(parser.getFlavour(), false)) {
            assertThat(parser.getFlavour()).isEqualTo(PDFAFlavour.PDFA_3_B);
            return validator.validate(parser);
        }
    }
}

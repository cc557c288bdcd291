// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.pdf.ReportOptions;
import dev.loadwitness.reporter.pdf.ReportPdf;
import dev.loadwitness.reporter.pdf.chart.Course;
import dev.loadwitness.reporter.pdf.paper.EmbeddedFile;
import dev.loadwitness.reporter.signature.PdfSigner;
import dev.loadwitness.reporter.signature.SigningKey;
import dev.loadwitness.reporter.signature.Update;
import dev.loadwitness.reporter.text.ReportJson;
import dev.loadwitness.reporter.text.VerdictJson;
import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.reporter.verdict.Verdict;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.security.SecureRandom;
import java.time.Duration;
import java.time.Instant;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import org.junit.jupiter.api.BeforeAll;
import org.junit.jupiter.api.Tag;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/** What somebody with a key of his own makes of the log of a machine that failed. */
@Tag("keys")
final class ForgedReportTest {
    private static final Path FAILED = Path.of("..", "sample-runs", "fan-stalls", "run.jsonl");
    private static final Instant NOW = Instant.parse("2026-11-25T12:00:00Z");

    @TempDir
    private Path folder;

    private static SigningKey key;
    private static Inputs inputs;
    private static Judgement judgement;
    private static ReportOptions options;

    @BeforeAll
    static void judge() throws Exception {
        key = SigningKey.createSelfSigned(
                "Somebody", "Somebody", NOW.minusSeconds(60), Duration.ofDays(30), new SecureRandom());
        inputs = new Inputs();
        inputs.log = FAILED;
        judgement = inputs.judge(true);
        assertThat(judgement.verdict().outcome()).isEqualTo(Outcome.FAIL);
        options = ReportOptions.issuedAt(NOW)
                .by(Version.text())
                .signedBy(Optional.of(new ReportOptions.Signer(key.subject(), key.sha256Fingerprint())));
    }

    private Said verified(byte[] pdf, Verdict verdict, ReportOptions layout) throws Exception {
        byte[] signed = PdfSigner.sign(pdf, key, NOW, Report.reason(verdict, layout));
        return Said.by(
                "verify", Files.write(folder.resolve("forged.pdf"), signed), "--fingerprint", key.sha256Fingerprint());
    }

    @Test
    void honestPagesOfTheSameLogAreGenuine() throws Exception {
        Said said = verified(Report.pdf(judgement, inputs, options), judgement.verdict(), options);

        assertThat(said.status()).as(said.text()).isZero();
        assertThat(said.text()).contains("Verdict: fail, judged again", "byte for byte what this program prints");
    }

    /** An object behind the printed report, and before the signature, shows a green box instead of page 1. */
    @Test
    void aGreenBoxInPlaceOfPageOneIsNotGenuine() throws Exception {
        byte[] replaced = Update.greenBox(Report.pdf(judgement, inputs, options));
        Said said = verified(replaced, judgement.verdict(), options);

        assertThat(said.status()).as(said.text()).isEqualTo(Exit.FAIL);
        assertThat(said.text())
                .contains("Verdict: fail, judged again", "Pages: REPLACED", "Believe the verdict above, not the pages.")
                .doesNotContain("byte for byte");
    }

    @Test
    void anUnsignedReportWithAGreenBoxIsNotGenuineEither() throws Exception {
        ReportOptions unsigned = ReportOptions.issuedAt(NOW).by(Version.text());
        Path file =
                Files.write(folder.resolve("unsigned.pdf"), Update.greenBox(Report.pdf(judgement, inputs, unsigned)));

        assertThat(Said.by("verify", file).status()).isEqualTo(Exit.FAIL);
    }

    /** Pages that name another version cannot be printed again; that is no reason to believe them. */
    @Test
    void pagesThatNameAnotherVersionOfTheProgramAreNotGenuineUnlessTheyAreTheSame() throws Exception {
        ReportOptions another = options.by("0.0.9 (elsewhere)");
        byte[] printed = Report.pdf(judgement, inputs, another);
        Said said = verified(Update.greenBox(printed), judgement.verdict(), another);
        assertThat(said.status()).as(said.text()).isEqualTo(Exit.FAIL);

        byte[] pages = new String(printed, StandardCharsets.ISO_8859_1)
                .replace("/Subject", "/Subjekt")
                .getBytes(StandardCharsets.ISO_8859_1);
        said = verified(pages, judgement.verdict(), another);
        assertThat(said.status()).as(said.text()).isEqualTo(Exit.FAIL);
        assertThat(said.text())
                .contains("Verdict: fail, judged again", "NOT checked: they name another version", "0.0.9 (elsewhere)");
        assertThat(said.text().indexOf("Verdict: fail")).isLessThan(said.text().indexOf("NOT checked"));

        assertThat(verified(printed, judgement.verdict(), another).status()).isZero();
    }

    /** A verdict that names another method cannot be judged again; what the log gives here is said first. */
    @Test
    void aPassByAnotherMethodOverALogThatFailsHereIsNotGenuine() throws Exception {
        for (String method : List.of("3", judgement.verdict().methodVersion())) {
            Verdict pass = passing(judgement.verdict(), method);
            Said said = verified(printed(pass), pass, options);

            assertThat(said.status()).as(said.text()).isEqualTo(Exit.FAIL);
            assertThat(said.text()).contains("Judged here, the log inside gives: fail.");
            assertThat(said.text().indexOf("Judged here, the log inside gives: fail."))
                    .isLessThan(said.text().indexOf("Verdict:"));
            assertThat(said.text())
                    .contains(method.equals("3") ? "names method 3" : "does NOT follow from the log inside");
        }
    }

    private static Verdict passing(Verdict v, String method) {
        return new Verdict(
                Outcome.PASS,
                "Held full load for the time asked for.",
                v.findings(),
                v.notes(),
                method,
                v.header(),
                v.procedure(),
                v.ownProcedure(),
                v.jobSheet(),
                v.attempts(),
                v.demonstrated(),
                v.logSha256(),
                v.lastChain());
    }

    private static byte[] printed(Verdict verdict) throws Exception {
        List<EmbeddedFile> inside = new ArrayList<>(inputs.evidence(judgement, VerdictJson.write(verdict)));
        ReportJson facts = new ReportJson(
                ReportPdf.number(verdict, options),
                NOW,
                options.program(),
                "a4",
                "en",
                "",
                "",
                key.subject(),
                key.sha256Fingerprint());
        inside.add(new EmbeddedFile(Inputs.Evidence.REPORT, EmbeddedFile.Kind.REPORT, facts.write()));
        return ReportPdf.write(verdict, Course.of(judgement.scan()), options.holding(inside));
    }
}

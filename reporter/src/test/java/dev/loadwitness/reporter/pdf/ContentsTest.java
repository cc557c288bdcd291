// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.pdf.paper.EmbeddedFile;
import dev.loadwitness.reporter.text.VerdictExamples;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.jobsheet.JobSheetException;
import dev.loadwitness.runlog.jobsheet.JobSheetReader;
import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Instant;
import java.util.List;
import java.util.Optional;
import org.junit.jupiter.api.BeforeAll;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

/**
 * What a test report has to say, after ISO/IEC 17025:2017, 7.8 (paraphrased; letters from an open survey of a 2024 trade
 * article, and from memory), and what this trade adds. The job sheet is the completed example of the docs.
 */
final class ContentsTest {
    @TempDir
    private static Path folder;

    private static String text;
    private static Poppler pdf;

    @BeforeAll
    static void write() throws IOException, JobSheetException {
        JobSheet sheet = JobSheetReader.read(
                "job-sheet.yaml",
                Files.readString(Path.of("..", "docs", "examples", "job-sheet.yaml"), StandardCharsets.UTF_8));
        Verdict v = VerdictExamples.fail();
        Verdict verdict = new Verdict(
                v.outcome(),
                v.sentence(),
                v.findings(),
                v.notes(),
                v.methodVersion(),
                v.header(),
                v.procedure(),
                v.ownProcedure(),
                Optional.of(sheet),
                v.attempts(),
                v.demonstrated(),
                v.logSha256(),
                v.lastChain());
        pdf = new Poppler(
                folder,
                ReportPdf.write(
                        verdict,
                        ReportPdfTest.Variant.ordinary(),
                        ReportOptions.issuedAt(Instant.parse("2026-11-25T14:03:20Z"))
                                .by("0.1.0 (3f2a9c1d02)")
                                .correcting(Optional.of(new ReportOptions.Correction(
                                        "20261124-0123ABCD", "The serial number was wrong.")))
                                .signedBy(Optional.of(
                                        new ReportOptions.Signer("CN=Fernhollow Board Repair", "4f".repeat(32))))
                                .holding(List.of(
                                        new EmbeddedFile("run.jsonl", EmbeddedFile.Kind.RUN_LOG, new byte[1234])))));
        text = pdf.text();
    }

    @ParameterizedTest(name = "{0}")
    @CsvSource(delimiter = '|', textBlock = """
            7.8.2.1 a title                               | Burn-in report: FAILED
            7.8.2.1 b laboratory                          | Shop Fernhollow Board Repair
            7.8.2.1 c where the work was done             | Where on the bench of the shop
            7.8.2.1 d unique number                       | Report number 20261125-
            7.8.2.1 d a clear end                         | End of report 20261125-
            7.8.2.1 e customer, marked as supplied        | Customer [c] 1187
            7.8.2.1 e customer's reference                | Customer's reference [c] PO 5520
            7.8.2.1 f method                              | Procedure Graphics rail repair: 60 min soak
            7.8.2.1 f method version                      | Judged by method 1, reporter 0.1.0
            7.8.2.1 g item                                | Serial number [t] AWK17-004711
            7.8.2.1 g condition on receipt                | Condition on receipt [t] Case scratched at the rear left corner
            7.8.2.1 h date of receipt                     | Received [t] 2026-11-18
            7.8.2.1 i date of the work                    | Begun 2026-11-25 09:00 UTC
            7.8.2.1 j date of issue                       | Issued 2026-11-25 14:03 UTC
            7.8.2.1 l what the results relate to          | The results relate only to the machine named on page 1
            7.8.2.1 m result with unit                    | 76.1 °C
            7.8.2.1 n deviations                          | Deviations from the procedure
            7.8.2.1 o who authorises                      | Authorised by M. Okonjo-Vale
            7.8.2.1 note: only whole                      | Please copy this report only whole.
            7.8.2.2 customer's facts                      | [c] supplied by the customer, not checked here.
            7.8.2.2 reported fault is the customer's      | Reported fault [c] Shuts off without warning
            7.8.3.1 a environment                         | Ambient temperature 23.5 °C, thermometer 30 cm from the intake
            7.8.3.1 c uncertainty                         | expanded uncertainty with coverage factor k = 2
            7.8.3.1 c uncertainty of a result             | 0.6 K
            7.8.6.1 decision rule                         | Decision rule: guard-banded.
            7.8.6.2 a b what is met                       | Met: limit-withdrawn
            7.8.6.2 b what is not met                     | Not met: soak-duration (gpu-discrete), interruptions.
            7.8.8 replaced report                         | Replaces report 20261124-0123ABCD. The serial number was wrong.
            page x of y                                   | Page 2 of
            no accreditation is claimed                   | conformity with that standard is not claimed
            what was done                                 | Work done [t] Shorted power stage PU3
            parts replaced                                | Parts replaced [t] PU3, power stage, new
            watts held beside watts rated                 | 147 W held on average in discrete soak; rated 150 W [t]
            origin of the rating                          | the maker's data sheet of the AW-17 Kestrel
            attempts counted                              | Attempt 3 of 3 on this ticket
            each attempt's outcome                        | 41 min qualified, then shut off
            what software cannot see                      | gate timing and shoot-through; ripple
            known faults left                             | Known faults left [t] Card reader worn
            whose adapter                                 | Alder Works AW-A240, 20 V 12 A, recognised by the machine, the customer's
            whose battery                                 | not swollen, 81 % of its design capacity by its own report, the customer's
            seal                                          | Seal [t] 004711
            warranty                                      | Ninety days on the parts replaced
            rails, normalised                             | 80 mΩ
            rails' instrument                             | Measured with multimeter M2
            hand check                                    | done keyboard and touchpad
            digest of the log                             | d2a84f4b8b650937ec8f73cd8be2c74add5a911ba64df27458ed8229da804a26
            fingerprint of the key                        | 4f4f4f4f 4f4f4f4f
            how to check the signature                    | must say "Signature is Valid" and "Total document signed"
            how to check it with a reader                 | It must name one signature and say that the document was not changed
            how to check the signer                       | openssl x509 -in signer.pem -noout -fingerprint -sha256
            how to check the digest                       | pdfdetach -saveall report.pdf sha256sum run.jsonl
            how to check all of it                        | loadwitness-reporter verify report.pdf --fingerprint 4f4f
            what chain and signature prove                | Neither says when, nor that the holder is honest.
            file inside                                   | run.jsonl: The run log that was judged (1,234 bytes)
            """)
    void isSaid(String what, String said) {
        assertThat(text).as(what).contains(Poppler.packed(said));
    }

    @Test
    void pageOneIsForTheCustomerAndHoldsAllThatHeNeeds() {
        assertThat(pdf.text(1))
                .contains(Poppler.packed("FAIL"), "Died after 22 min".replace(" ", ""))
                .contains("Whatwastested", "Whatthismeans", "Diditstayon?No.", "Cautions", "Resultauthorised:FAIL")
                .contains("Temperature,°C", "Clock,GHz", "Power,W", "Verifiedwork,%")
                .contains("SHA-256oftherunlog", "Page1of")
                .containsPattern("Stepsandlimits:page" + pageOf("Howtocheckthisreport"))
                .containsPattern("Alllines,limitsandevents:page" + pageOf("Thecourseoftherun"))
                .doesNotContain("Criteriaandevidence", "Stretch");
        assertThat(pdf.text(2)).contains("Itemandjob").doesNotContain("Whatthismeans");
    }

    private static int pageOf(String heading) {
        int page = 1;
        while (page == 1 || !pdf.text(page).contains(heading)) {
            page++;
        }
        return page;
    }

    /** People and programs read it in this order. */
    @Test
    void pagesForTheFileComeInTheOrderInWhichOneAsks() {
        List<String> order = List.of(
                "Itemandjob",
                "Therun",
                "Attempt3of3",
                "Whatwasdemonstrated",
                "Criteriaandevidence",
                "Statementofconformity",
                "Deviationsfromtheprocedure",
                "Thecourseoftherun",
                "Stages",
                "Railsbeforeandafter",
                "Checksbyhand",
                "Sensorsandtheiruncertainty",
                "Method",
                "Whatsoftwarecannotsee",
                "Howtocheckthisreport",
                "Whatthisreportrestson",
                "Endofreport");
        int at = text.indexOf("Page1of");
        for (String heading : order) {
            int next = text.indexOf(heading, at + 1);
            assertThat(next).as(heading).isGreaterThan(at);
            at = next;
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import static org.assertj.core.api.Assertions.assertThat;

import com.google.zxing.BinaryBitmap;
import com.google.zxing.RGBLuminanceSource;
import com.google.zxing.Result;
import com.google.zxing.common.HybridBinarizer;
import com.google.zxing.datamatrix.DataMatrixReader;
import dev.loadwitness.reporter.chart.PrintedChart;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Table;
import dev.loadwitness.reporter.pdf.chart.Course;
import dev.loadwitness.reporter.pdf.paper.EmbeddedFile;
import dev.loadwitness.reporter.pdf.paper.Paper;
import dev.loadwitness.reporter.pdf.paper.Typeface;
import dev.loadwitness.reporter.pdf.paper.Words;
import dev.loadwitness.reporter.scan.series.Mark;
import dev.loadwitness.reporter.scan.series.Series;
import dev.loadwitness.reporter.scan.stage.StageSpan;
import dev.loadwitness.reporter.text.VerdictExamples;
import dev.loadwitness.reporter.text.VerdictJson;
import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.reporter.verdict.Verdict;
import java.awt.image.BufferedImage;
import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Instant;
import java.util.Arrays;
import java.util.EnumMap;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Optional;
import java.util.TimeZone;
import java.util.stream.Stream;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.EnumSource;

public final class ReportPdfTest {
    private static final Instant ISSUED = Instant.parse("2026-11-25T14:03:20Z");

    @TempDir
    private Path folder;

    /** Every kind of report, named so that a failure says which. */
    public enum Variant {
        PASS(VerdictExamples.pass()),
        FAIL(VerdictExamples.fail()),
        INCONCLUSIVE(VerdictExamples.inconclusive()),
        SIMULATED(VerdictExamples.simulatedPass()),
        BARE(VerdictExamples.bare()),
        /** Twelve stages, forty channels, three hundred events: as much as a real run has. */
        BUSY(VerdictExamples.fail()),
        EXTREME(VerdictExamples.extreme());

        public final Verdict verdict;

        Variant(Verdict verdict) {
            this.verdict = verdict;
        }

        public byte[] write() {
            return ReportPdf.write(verdict, course(), ReportOptions.issuedAt(ISSUED));
        }

        public Course course() {
            return switch (this) {
                case BARE -> Course.NONE;
                case BUSY ->
                    course(
                            VerdictExamples.fortyChannels(),
                            VerdictExamples.twelveStages(),
                            VerdictExamples.threeHundredMarks());
                case EXTREME ->
                    course(VerdictExamples.crowded(), VerdictExamples.manyStages(), VerdictExamples.manyMarks());
                default -> ordinary();
            };
        }

        public static Course ordinary() {
            return course(VerdictExamples.series(), VerdictExamples.stages(), VerdictExamples.marks());
        }

        private static Course course(List<Series> series, List<StageSpan> stages, List<Mark> marks) {
            return new Course(
                    series,
                    stages,
                    stages.stream()
                            .map(s -> s.stage().contains("soak") ? 147.2 : Double.NaN)
                            .toList(),
                    marks,
                    series.stream().map(Series::channel).distinct().toList());
        }
    }

    private static byte[] ordinary(Verdict verdict) {
        return ReportPdf.write(verdict, Variant.ordinary(), ReportOptions.issuedAt(ISSUED));
    }

    /** Written once for all tests that only read. */
    private static final Map<Variant, byte[]> WRITTEN = new EnumMap<>(Variant.class);

    private Poppler read(Variant variant) {
        return new Poppler(folder, WRITTEN.computeIfAbsent(variant, Variant::write));
    }

    private static void assertSameBytes(byte[] actual, byte[] expected) {
        assertThat(Arrays.mismatch(actual, expected))
                .as("first differing byte of %d and %d", actual.length, expected.length)
                .isEqualTo(-1);
    }

    @ParameterizedTest
    @EnumSource
    void everyTextOfTheVerdictIsThere(Variant variant) {
        String text = read(variant).text();
        Typeface type = new Typeface();
        Verdict verdict = variant.verdict;

        assertThat(text)
                .contains(
                        shown(type, verdict.sentence()),
                        shown(type, verdict.header().runId()));
        for (Finding finding : verdict.findings()) {
            Stream.of(
                            finding.criterion().word() + finding.subject(),
                            finding.criterion().summary(),
                            finding.measured(),
                            finding.limit() + finding.limitOrigin(),
                            finding.uncertainty(),
                            finding.margin())
                    .forEach(part -> assertThat(text).contains(shown(type, part)));
            // One taller than a page is cut by a footer: its ends are enough.
            String because = finding.because();
            if (because.length() < 1000) {
                assertThat(text).contains(shown(type, because));
            } else {
                assertThat(text)
                        .contains(
                                shown(type, because.substring(0, 200)),
                                shown(type, because.substring(because.length() - 40)));
            }
            for (Evidence evidence : finding.evidence()) {
                assertThat(text)
                        .contains(shown(type, evidence.place() + ", " + evidence.at() + ": " + evidence.text()));
            }
            for (Table table : finding.tables()) {
                assertThat(text).contains(shown(type, table.title()), shown(type, String.join("", table.columns())));
                table.rows().forEach(row -> assertThat(text).contains(shown(type, String.join("", row))));
            }
        }
        Stream.of(verdict.notes(), verdict.demonstrated(), verdict.logSha256(), List.of(verdict.lastChain()))
                .flatMap(List::stream)
                .forEach(part -> assertThat(text).contains(shown(type, part)));
        verdict.attempts().forEach(a -> assertThat(text).contains(shown(type, a.number() + a.runId() + a.summary())));
        assertThat(text)
                .contains("shoot-through", "ripple", "solderjoints", "Theresultsrelateonlyto", "Batteryswollen")
                .endsWith("Page" + read(variant).pages() + "of" + read(variant).pages() + tail(variant));
    }

    /** The page's frame is written last: below the page number stands only what a frame holds. */
    private static String tail(Variant variant) {
        String title = Poppler.packed(ReportPdf.title(Words.english(), variant.verdict));
        return title + (variant.verdict.header().simulated() ? "SIMULATEDSIMULATED:nomachinewasmeasured" : "");
    }

    @ParameterizedTest
    @EnumSource
    void everyPageSaysWhichItIsAndOfWhichRun(Variant variant) {
        Poppler pdf = read(variant);
        int pages = pdf.pages();

        assertThat(pages).isGreaterThan(2);
        for (int page = 1; page <= pages; page++) {
            assertThat(pdf.text(page)).contains("Page" + page + "of" + pages, "Run" + VerdictExamples.RUN);
        }
    }

    @ParameterizedTest
    @EnumSource
    void aSimulatedRunIsStampedOnEveryPageAndNoOtherIs(Variant variant) {
        Poppler pdf = read(variant);
        for (int page = 1; page <= pdf.pages(); page++) {
            if (variant.verdict.header().simulated()) {
                assertThat(pdf.text(page)).as("page %d", page).contains("SIMULATED:nomachinewasmeasured");
                assertThat(pdf.text(page).split("SIMULATED", -1))
                        .as("page %d", page)
                        .hasSizeGreaterThan(2);
            } else {
                assertThat(pdf.text(page)).doesNotContain("SIMULATED");
            }
        }
    }

    @Test
    void onlyARealPassIsACertificate() {
        assertThat(read(Variant.PASS).text()).contains("Burn-incertificate").doesNotContain("Burn-inreport");
        assertThat(read(Variant.FAIL).text()).contains("Burn-inreport:FAILED").doesNotContain("Burn-incertificate");
        assertThat(read(Variant.INCONCLUSIVE).text())
                .contains("Burn-inreport:INCONCLUSIVE")
                .doesNotContain("Burn-incertificate");
        assertThat(read(Variant.BARE).text())
                .contains("Burn-inreport:INCONCLUSIVE")
                .doesNotContain("Burn-incertificate");
        assertThat(read(Variant.SIMULATED).text()).doesNotContain("Burn-incertificate");
        assertThat(read(Variant.SIMULATED).info()).doesNotContain("certificate");
    }

    @ParameterizedTest
    @EnumSource
    void everyFontIsInsideTheFile(Variant variant) {
        assertThat(read(variant).fonts())
                .isNotEmpty()
                .allSatisfy(font -> assertThat(font).matches("[A-Z]{6}\\+Liberation.* yes yes yes +\\d+ +0"));
    }

    @ParameterizedTest
    @EnumSource
    void noTextLeavesThePageOrLiesOnAnother(Variant variant) {
        Layouts.assertNothingClashes(read(variant));
    }

    @ParameterizedTest
    @EnumSource
    void letterPaperHoldsTheSame(Variant variant) {
        Poppler pdf = new Poppler(
                folder,
                ReportPdf.write(
                        variant.verdict,
                        variant.course(),
                        ReportOptions.issuedAt(ISSUED).on(Paper.LETTER)));

        Layouts.assertNothingClashes(pdf);
        assertThat(pdf.info()).contains("612 x 792 pts (letter)");
        assertThat(pdf.text(1)).contains("Cautions");
        assertThat(pdf.text(2)).contains("Itemandjob");
    }

    @ParameterizedTest
    @EnumSource
    void theCustomersPageIsOnePage(Variant variant) {
        assertThat(read(variant).text(1)).contains("Cautions", "[c]suppliedbythecustomer");
        assertThat(read(variant).text(2)).contains("Itemandjob").doesNotContain("Cautions");
    }

    /** A reader that shares no code with the writer, on the page as it is printed. */
    @Test
    void aReportWithoutASerialNumberSaysSoAndEachSaysWhatNoCheckCanExclude() throws Exception {
        assertThat(read(Variant.BARE).text(1)).contains("Thisreportnamesnosinglemachine");
        assertThat(read(Variant.BARE).text())
                .contains("Thereportnamesnomachine")
                .doesNotContain("machinenamedonpage1");
        assertThat(read(Variant.PASS).text(1)).doesNotContain("namesnosinglemachine");
        assertThat(read(Variant.PASS).text()).contains("machinenamedonpage1", "Whatthisreportcannotexclude");
    }

    @Test
    void codeOnThePageHoldsTheDigestOfTheLog() throws Exception {
        BufferedImage page = read(Variant.PASS).image(folder, 1);
        int width = page.getWidth();
        int height = page.getHeight();
        RGBLuminanceSource source =
                new RGBLuminanceSource(width, height, page.getRGB(0, 0, width, height, null, 0, width));
        // Its finder wants the code alone: it stands right of the digest, in the same box.
        Poppler.Word label = read(Variant.PASS).words().stream()
                .filter(w -> w.text().equals("SHA-256"))
                .findFirst()
                .orElseThrow();
        double scale = width / label.width();
        Result read = new DataMatrixReader()
                .decode(new BinaryBitmap(new HybridBinarizer(
                        source.crop((int) (scale * 476), (int) (scale * (label.top() - 4)), (int) (scale * 72), (int)
                                (scale * 72)))));

        assertThat(read.getText())
                .isEqualTo("SHA-256 " + VerdictExamples.pass().logSha256().get(0));
    }

    @Test
    void whatTheFontsLackIsShownAndNamed() {
        assertThat(read(Variant.EXTREME).text(1)).contains("□standsforacharacterthatthisreport'sfontslack:U+");
        assertThat(read(Variant.PASS).text(1)).doesNotContain("□");
    }

    @ParameterizedTest
    @EnumSource
    void everyPageCanBeDrawn(Variant variant) throws IOException {
        Poppler pdf = read(variant);
        pdf.draw(folder);

        try (Stream<Path> drawn = Files.list(folder)) {
            assertThat(drawn.filter(p -> p.toString().endsWith(".pgm"))).hasSize(pdf.pages());
        }
    }

    @ParameterizedTest
    @EnumSource(names = {"PASS", "EXTREME"})
    void localeAndTimeZoneChangeNoByte(Variant variant) {
        Locale locale = Locale.getDefault();
        TimeZone zone = TimeZone.getDefault();
        byte[] here = variant.write();
        try {
            Locale.setDefault(Locale.forLanguageTag("ar-EG-u-nu-arab"));
            TimeZone.setDefault(TimeZone.getTimeZone("Pacific/Chatham"));
            assertSameBytes(variant.write(), here);
            Locale.setDefault(Locale.forLanguageTag("tr-TR"));
            assertSameBytes(variant.write(), here);
        } finally {
            Locale.setDefault(locale);
            TimeZone.setDefault(zone);
        }
    }

    /** In a process of its own, because AWT looks for fonts once. */
    @Test
    void aMachineWithoutFontsWritesTheSameBytes() throws Exception {
        Path noFonts = Files.writeString(
                folder.resolve("fonts.conf"),
                "<?xml version=\"1.0\"?><fontconfig></fontconfig>",
                StandardCharsets.UTF_8);
        Path out = folder.resolve("elsewhere.pdf");
        String classes = System.getProperty("surefire.test.class.path", System.getProperty("java.class.path"));
        ProcessBuilder java = new ProcessBuilder(
                Path.of(System.getProperty("java.home"), "bin", "java").toString(),
                "-Duser.language=de",
                "-Duser.timezone=Asia/Tokyo",
                "-cp",
                classes,
                Elsewhere.class.getName(),
                out.toString());
        java.environment().put("FONTCONFIG_FILE", noFonts.toString());
        Process process = java.redirectErrorStream(true).start();
        String said = new String(process.getInputStream().readAllBytes(), StandardCharsets.UTF_8);

        assertThat(process.waitFor()).as(said).isZero();
        assertSameBytes(Files.readAllBytes(out), Variant.PASS.write());
    }

    /** Writes a report in another process. */
    static final class Elsewhere {
        private Elsewhere() {}

        public static void main(String[] arguments) throws IOException {
            Files.write(Path.of(arguments[0]), Variant.PASS.write());
        }
    }

    @Test
    void runLogAndVerdictCanBeTakenOutOfTheReportAgain() throws IOException {
        byte[] log = "{\"type\":\"header\"}\n".repeat(50_000).getBytes(StandardCharsets.UTF_8);
        Path logFile = Files.write(folder.resolve("any.jsonl"), log);
        byte[] json = VerdictJson.write(VerdictExamples.pass());
        byte[] pdf = ReportPdf.write(
                VerdictExamples.pass(),
                Course.NONE,
                ReportOptions.issuedAt(ISSUED)
                        .by("0.1.0 (3f2a9c1d02)")
                        .holding(List.of(
                                new EmbeddedFile("run.jsonl", EmbeddedFile.Kind.RUN_LOG, Files.readAllBytes(logFile)),
                                new EmbeddedFile("verdict.json", EmbeddedFile.Kind.VERDICT, json))));
        Poppler read = new Poppler(folder, pdf);
        String raw = new String(pdf, StandardCharsets.ISO_8859_1);

        assertThat(List.of(read.embedded(folder, 1), read.embedded(folder, 2))).containsExactlyInAnyOrder(log, json);
        assertThat(raw)
                .contains("/AFRelationship/Source", "/AFRelationship/Data", "/AF[", "/Subtype/application#2fjson");
        assertThat(pdf.length).as("compressed").isLessThan(log.length / 4);
        assertThat(read.text()).contains("Insidethisfilerun.jsonl").contains("(900,000bytes)");
        assertThat(read.text()).as("the program that judged").contains("reporter0.1.0(3f2a9c1d02)");
    }

    @Test
    void textInChartsStaysText() {
        assertThat(read(Variant.PASS).text())
                .contains("Temperature,°C", "87°C:DiscreteGPUslowsitselfdown", "S3discretesoak", "minutes")
                .contains("Clock,GHz", "Power,W", "DiscreteGPUlimitinforce", "Verifiedwork,%ofitshighestrate");
    }

    @Test
    void whatWasNotMeasuredIsSaidInsteadOfDrawn() {
        String text = read(Variant.BARE).text();

        for (PrintedChart quantity : PrintedChart.values()) {
            assertThat(text)
                    .contains(Poppler.packed(Words.english().title(quantity)
                            + ": no channel of this run measured it, so there is nothing to draw."));
        }
        assertThat(text).contains("Nostageoftheprocedurewasbegun.", "nothingwasdemonstrated");
    }

    @Test
    void twelveLinesAreSharedByTwoChartsAndAllAreListed() {
        String text = read(Variant.EXTREME).text();

        assertThat(text).contains("Temperature(1of2)", "Temperature(2of2)").doesNotContain("(3of");
        for (Series series : VerdictExamples.crowded()) {
            if (!series.channel().id().startsWith("odd")) {
                assertThat(text).contains(Poppler.packed(series.channel().id()));
            }
        }
        assertThat(text)
                .contains("Therunhas6stretchesbetweeninterruptions;thefirst4aredrawn.")
                .contains("moreeventsare");
    }

    @Test
    void openFieldsSayThatNobodyStatedThem() {
        String text = read(Variant.BARE).text();

        assertThat(text)
                .contains("Reportedfault[c]notstated", "Ratedgraphicspower[t]notstated", "Repairedrail[t]notstated")
                .contains("Workdone[t]notstated", "Ambienttemperaturenottaken", "Techniciannotstated");
    }

    @Test
    void aWithheldSerialNumberIsNotPrinted() {
        assertThat(read(Variant.PASS).text()).contains("AWK17-004711");
        assertThat(new Poppler(folder, ordinary(VerdictExamples.withheld("serial"))).text())
                .contains("withheldonrequest")
                .doesNotContain("AWK17-004711");
    }

    private static String shown(Typeface type, String text) {
        return Poppler.packed(type.clean(text));
    }

    @Test
    void whatADamagedLogSaysStandsInNoLargePrintOnPageOne() throws IOException {
        Verdict damaged = Judge.judge(Judge.Request.of(Path.of("..", "sample-runs", "tampered", "run.jsonl")))
                .verdict();

        assertThat(new Poppler(folder, ordinary(damaged)).text(1))
                .contains(Poppler.packed("is not the one that was written during the test"))
                .doesNotContain(Poppler.packed("Hottest minute ("), Poppler.packed("Full load held"));
    }

    /** Each of the small charts' lines has its name above it, and the one limit its own on it. */
    @Test
    void everyLineOfTheSmallChartsIsNamed() throws IOException {
        Path log = Path.of("..", "sample-runs", "real-gpu-rails", "run.jsonl");
        Judgement judgement = Judge.judge(new Judge.Request(log, Optional.empty(), Optional.empty(), List.of(), true));
        byte[] report =
                ReportPdf.write(judgement.verdict(), Course.of(judgement.scan()), ReportOptions.issuedAt(ISSUED));
        String page = new Poppler(folder, report).text(1);

        assertThat(page)
                .contains(
                        "Temperature,°CDiscreteGPU",
                        "Clock,GHzDiscreteGPU",
                        "Power,WDiscreteGPU",
                        "Verifiedwork,%DiscreteGPU",
                        "DiscreteGPUslowsdown:89°C")
                // Two sensors of one part would be two lines with one name: there is one line for a part.
                .doesNotContain("memory");
    }
}

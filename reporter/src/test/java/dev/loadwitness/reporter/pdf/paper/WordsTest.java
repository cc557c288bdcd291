// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.paper;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.pdf.Layouts;
import dev.loadwitness.reporter.pdf.Poppler;
import dev.loadwitness.reporter.pdf.ReportOptions;
import dev.loadwitness.reporter.pdf.ReportPdf;
import dev.loadwitness.reporter.pdf.ReportPdfTest;
import dev.loadwitness.reporter.pdf.chart.Course;
import dev.loadwitness.reporter.text.VerdictExamples;
import dev.loadwitness.reporter.text.VerdictJson;
import dev.loadwitness.reporter.verdict.Verdict;
import java.io.IOException;
import java.io.InputStreamReader;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.text.DecimalFormatSymbols;
import java.time.Instant;
import java.time.LocalDate;
import java.time.chrono.IsoChronology;
import java.time.format.DateTimeFormatterBuilder;
import java.time.format.FormatStyle;
import java.util.Arrays;
import java.util.List;
import java.util.Locale;
import java.util.Properties;
import java.util.Set;
import java.util.TreeSet;
import java.util.function.Function;
import java.util.regex.Pattern;
import java.util.stream.Collectors;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.MethodSource;

final class WordsTest {
    private static final Instant ISSUED = Instant.parse("2026-11-25T14:03:20Z");
    private static final Properties ENGLISH = load("texts.properties");
    private static final Pattern LATIN_WORD = Pattern.compile("[A-Za-z]{3,}");

    @TempDir
    private Path folder;

    private static Properties load(String name) {
        try (InputStreamReader in =
                new InputStreamReader(Words.class.getResourceAsStream(name), StandardCharsets.UTF_8)) {
            Properties properties = new Properties();
            properties.load(in);
            return properties;
        } catch (IOException e) {
            throw new IllegalStateException(e);
        }
    }

    /** Every letter accented, every text half as long again: a language that nobody speaks. */
    private static String pseudo(String key) {
        String text = ENGLISH.getProperty(key);
        if (text == null) {
            return null;
        }
        StringBuilder out = new StringBuilder();
        boolean place = false;
        for (int i = 0; i < text.length(); i++) {
            char c = text.charAt(i);
            place = c == '{' || (place && c != '}');
            int at = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ".indexOf(c);
            out.append(at < 0 || place ? c : "åƀçðéƒǧĥíĵķłṁñøþɋřšŧûṽŵẋýžÅƁÇÐÉƑǦĤÎĴĶĿṀÑÖÞɊŘŠŦÛṼŴẊÝŽ".charAt(at));
        }
        int more = text.replaceAll("\\{\\d\\}", "").length() / 2;
        return out.append(more < 3 ? "" : " " + "ö".repeat(Math.min(more, 9))).toString();
    }

    /**
     * In a made-up language every Latin word that is left must be from the verdict, the job sheet or the log, whose words
     * are not the report's.
     */
    @ParameterizedTest
    @MethodSource("outcomes")
    void noWordIsHardCoded(Verdict verdict) {
        byte[] report = written(verdict, WordsTest::pseudo);
        Set<String> data = new TreeSet<>();
        LATIN_WORD.matcher(dataOf(verdict)).results().forEach(m -> data.add(m.group()));
        Set<String> strangers = new TreeSet<>();
        String plain = Poppler.run(
                "pdftotext", "-raw", new Poppler(folder, report).path().toString(), "-");
        LATIN_WORD
                .matcher(plain.replaceAll("-\\n", "-"))
                .results()
                .map(m -> m.group())
                .filter(w -> !data.contains(w))
                // Parts of digests and numbers, broken over lines.
                .filter(w -> !w.matches("[a-fA-F]+"))
                .forEach(strangers::add);

        assertThat(plain).contains("öööööö");
        assertThat(strangers).isEmpty();
    }

    static List<Verdict> outcomes() {
        return List.of(
                VerdictExamples.pass(),
                VerdictExamples.fail(),
                VerdictExamples.inconclusive(),
                VerdictExamples.simulatedPass());
    }

    private static String dataOf(Verdict verdict) {
        Course course = ReportPdfTest.Variant.ordinary();
        return new String(VerdictJson.write(verdict), StandardCharsets.UTF_8)
                + verdict
                + course.channels()
                + course.stages()
                + course.marks()
                // Signs of units and of standards, the same in every language.
                + " UTC SHA GHz MHz Hz SHA run.jsonl unknown "
                + " pdfsig nocert dump report.pdf sig0 openssl pkcs7 inform DER in print_certs out signer.pem x509 noout"
                + " fingerprint sha256 pdfdetach saveall sha256sum loadwitness-reporter verify "
                + Arrays.stream(dev.loadwitness.runlog.procedure.Criterion.values())
                        .map(c -> c.word() + " " + c.summary())
                        .collect(Collectors.joining(" "));
    }

    @Test
    void longerLanguageLeavesNoPageAndCoversNothing() {
        Poppler pdf = new Poppler(folder, written(VerdictExamples.fail(), WordsTest::pseudo));
        Layouts.assertNothingClashes(pdf);
        assertThat(pdf.text(1)).contains(Poppler.packed(pseudo("front.cautions")));
        assertThat(pdf.text(2)).contains(Poppler.packed(pseudo("job.heading")));
    }

    private static byte[] written(Verdict verdict, Function<String, String> texts) {
        return ReportPdf.write(
                verdict,
                ReportPdfTest.Variant.ordinary(),
                new Words(texts, Locale.ENGLISH),
                ReportOptions.issuedAt(ISSUED));
    }

    @Test
    void datesAndNumbersFollowTheLocaleInWholeReports() {
        String german = new Poppler(
                        folder,
                        ReportPdf.write(
                                VerdictExamples.pass(),
                                ReportPdfTest.Variant.ordinary(),
                                ReportOptions.issuedAt(ISSUED).in(Locale.GERMANY)))
                .text();

        assertThat(german)
                .contains("Issued25.11.202614:03UTC", "76,1°C", "23,5°C", "99,1%")
                .contains("Agentversion0.1.0")
                .doesNotContain("76.1°C", "2026-11-25");
    }

    static List<String> regions() {
        return load("locales.properties").stringPropertyNames().stream()
                .filter(tag -> !tag.equals("en"))
                .sorted()
                .toList();
    }

    /** Against the Unicode CLDR that this Java runtime carries; no-break spaces of any width count as one. */
    @ParameterizedTest
    @MethodSource("regions")
    void writingIsThatOfTheUnicodeConsortium(String tag) {
        Locale locale = Locale.forLanguageTag(tag);
        Words words = Words.of(locale);
        DecimalFormatSymbols cldr = DecimalFormatSymbols.getInstance(locale);
        LocalDate day = LocalDate.of(2026, 3, 7);

        assertThat(words.figures("0.5")).isEqualTo("0" + cldr.getDecimalSeparator() + "5");
        assertThat(words.count(1234567).replace('\u202F', '\u00A0'))
                .isEqualTo("1234567"
                        .replaceAll(
                                "(1)(234)(567)",
                                "$1" + cldr.getGroupingSeparator() + "$2" + cldr.getGroupingSeparator() + "$3")
                        .replace('\u202F', '\u00A0'));
        String order = DateTimeFormatterBuilder.getLocalizedDateTimePattern(
                        FormatStyle.SHORT, null, IsoChronology.INSTANCE, locale)
                .replaceAll("[^dMy]", "")
                .replaceAll("(.)\\1+", "$1");
        String written =
                words.day(day).replace("2026", "y").replaceAll("0?3", "M").replaceAll("0?7", "d");
        assertThat(written.replaceAll("[^dMy]", "")).isEqualTo(order);
    }

    @Test
    void aRegionThatIsNotListedWritesAsItsLanguageDoesAndOthersAreRefused() {
        assertThat(Words.of(Locale.forLanguageTag("de-LU")).figures("1.5 V")).isEqualTo("1,5 V");
        assertThat(ReportPdf.knows(Locale.forLanguageTag("th"))).isFalse();
    }

    @Test
    void onlyFractionsGetTheDecimalSignOfTheLocale() {
        Words words = Words.of(Locale.GERMAN);

        assertThat(words.figures("74.0 °C, 10.0 K below; −0.5 W; version 0.1.0; hwmon1.2; line 12."))
                .isEqualTo("74,0 °C, 10,0 K below; −0,5 W; version 0.1.0; hwmon1.2; line 12.");
    }

    @Test
    void thousandsGetTheSignOfTheLocale() {
        String text = "8,705,768 units; 1,234.5 W; 12,34 and 1,2345 are none; line 1,line 2";

        assertThat(Words.of(Locale.GERMAN).figures(text))
                .isEqualTo("8.705.768 units; 1.234,5 W; 12,34 and 1,2345 are none; line 1,line 2");
        assertThat(Words.of(Locale.FRENCH).figures(text)).startsWith("8\u00A0705\u00A0768 units; 1\u00A0234,5 W");
        assertThat(Words.english().figures(text)).isEqualTo(text);
    }

    @Test
    void ohmsAndHertzGetThePrefixThatReadsBest() {
        Words words = Words.english();

        assertThat(words.scaled(0.08, "Ω")).isEqualTo("80\u00A0mΩ");
        assertThat(words.scaled(310, "Ω")).isEqualTo("310\u00A0Ω");
        assertThat(words.scaled(4700, "Ω")).isEqualTo("4.7\u00A0kΩ");
        assertThat(words.scaled(1.5e7, "Hz")).isEqualTo("15\u00A0MHz");
        assertThat(words.scaled(0, "Ω")).isEqualTo("0\u00A0Ω");
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.paper;

import dev.loadwitness.reporter.chart.PrintedChart;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.io.InputStream;
import java.io.InputStreamReader;
import java.io.UncheckedIOException;
import java.nio.charset.StandardCharsets;
import java.time.Instant;
import java.time.LocalDate;
import java.time.ZoneOffset;
import java.time.format.DateTimeFormatter;
import java.util.Locale;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.Properties;
import java.util.TreeSet;
import java.util.function.Function;
import java.util.regex.Matcher;
import java.util.regex.Pattern;

/**
 * The words of the report, and how it writes dates and numbers. Words are in {@code texts.properties}, the ways of
 * writing in {@code locales.properties}; neither is asked of the Java runtime, so that the same report has the same bytes
 * on every machine.
 */
public final class Words {
    private static final DateTimeFormatter CLOCK =
            DateTimeFormatter.ofPattern("HH:mm 'UTC'", Locale.ROOT).withZone(ZoneOffset.UTC);
    /**
     * A number with thousands in commas, a decimal fraction, or both, in running text; not a version, an address or a part of a
     * name.
     */
    private static final Pattern FIGURE =
            Pattern.compile("(?<![\\w.,])(\\d{1,3}(?:,\\d{3})+|\\d+)(?:\\.(\\d+))?(?![\\w,]*\\w|\\.\\d)");
    /** Every text of the program itself: a translation may lack some. */
    private static final Properties ENGLISH = load("texts.properties").orElseThrow();

    private static final Properties STYLES = load("locales.properties").orElseThrow();

    private final Function<String, String> texts;
    private final String language;
    private final DateTimeFormatter day;
    private final String decimal;
    private final String thousands;

    /** @param texts from key to text, or null */
    Words(Function<String, String> texts, Locale locale) {
        this.texts = texts;
        this.language = locale.toLanguageTag();
        String[] style = style(locale)
                .orElseThrow(() -> new IllegalArgumentException(
                        "no way of writing dates and numbers is known for " + locale.toLanguageTag()))
                .split("\\|", 3);
        day = DateTimeFormatter.ofPattern(style[0], Locale.ROOT).withZone(ZoneOffset.UTC);
        decimal = style[1];
        thousands = style[2];
    }

    /** In the locale's language if there is a translation, in English otherwise. */
    public static Words of(Locale locale) {
        Properties translated = load("texts_" + locale.toLanguageTag().replace('-', '_') + ".properties")
                .or(() -> load("texts_" + locale.getLanguage() + ".properties"))
                .orElse(ENGLISH);
        return new Words(translated::getProperty, locale);
    }

    public static Words english() {
        return of(Locale.ENGLISH);
    }

    public static boolean knows(Locale locale) {
        return style(locale).isPresent();
    }

    /** Tags of all that {@link #knows}, sorted. */
    public static String known() {
        return String.join(", ", new TreeSet<>(STYLES.stringPropertyNames()));
    }

    /** A region that is not listed writes as its language does. */
    private static Optional<String> style(Locale locale) {
        return Optional.ofNullable(STYLES.getProperty(locale.toLanguageTag()))
                .or(() -> Optional.ofNullable(STYLES.getProperty(locale.getLanguage())));
    }

    /** Of the document: the language that its own words are in. */
    public String language() {
        return texts.apply("title.pass") == null || texts.apply("title.pass").equals(ENGLISH.getProperty("title.pass"))
                ? "en"
                : language;
    }

    public String text(String key, String... inserts) {
        String text = find(key).orElseThrow(() -> new IllegalStateException("no text for " + key));
        StringBuilder out = new StringBuilder();
        // In one pass: what is put in may itself contain braces.
        Matcher places = Pattern.compile("\\{(\\d)\\}").matcher(text);
        int from = 0;
        while (places.find()) {
            out.append(text, from, places.start()).append(inserts[Integer.parseInt(places.group(1))]);
            from = places.end();
        }
        return out.append(text.substring(from)).toString();
    }

    private Optional<String> find(String key) {
        return Optional.ofNullable(texts.apply(key)).or(() -> Optional.ofNullable(ENGLISH.getProperty(key)));
    }

    /** What a field shows that nobody filled in: an empty place on a certificate can be filled in afterwards. */
    public String stated(String text) {
        return text.isBlank() ? text("open.not-stated") : text;
    }

    public String minute(Instant instant) {
        return day.format(instant) + " " + CLOCK.format(instant);
    }

    public String day(LocalDate date) {
        return day.format(date.atStartOfDay(ZoneOffset.UTC));
    }

    public String title(PrintedChart chart) {
        return text("chart." + chart.name().toLowerCase(Locale.ROOT));
    }

    public String unit(PrintedChart chart) {
        return chart == PrintedChart.LOAD ? text("chart.load.unit") : chart.unit();
    }

    /** For titles with little room. */
    public String shortUnit(PrintedChart chart) {
        return chart == PrintedChart.LOAD ? text("chart.load.unit.short") : chart.unit();
    }

    /** {@code NOT MEASURED}. */
    public String loud(Outcome outcome) {
        return text("outcome." + outcome.word());
    }

    public String role(Role role) {
        return find("role." + role.word()).orElse(role.word());
    }

    /** English unless the translation has a text of its own for it. */
    public String summary(Criterion criterion) {
        return find("criterion." + criterion.word()).orElse(criterion.summary());
    }

    public String number(double value, String unit) {
        String digits = value == Math.rint(value) && Math.abs(value) < 1e9
                ? String.format(Locale.ROOT, "%.0f", value)
                : String.format(Locale.ROOT, "%s", value);
        return figures(unit.isEmpty() ? digits : digits + "\u00A0" + unit);
    }

    public String number(OptionalDouble value, String unit) {
        return value.isPresent() ? number(value.getAsDouble(), unit) : text("open.not-stated");
    }

    /** With the unit's prefix that leaves one to three digits before the point: {@code 80 mΩ}, {@code 15 MHz}. */
    public String scaled(double value, String unit) {
        double size = Math.abs(value);
        if (size >= 1e9) {
            return number(rounded(value / 1e9), "G" + unit);
        }
        if (size >= 1e6) {
            return number(rounded(value / 1e6), "M" + unit);
        }
        if (size >= 1e3) {
            return number(rounded(value / 1e3), "k" + unit);
        }
        return size > 0 && size < 1 ? number(rounded(value * 1e3), "m" + unit) : number(value, unit);
    }

    public String scaled(OptionalDouble value, String unit) {
        return value.isPresent() ? scaled(value.getAsDouble(), unit) : text("open.not-stated");
    }

    /** To nine digits, which no reading has: only the traces of binary fractions go. */
    public static double rounded(double value) {
        return new java.math.BigDecimal(value)
                .round(new java.math.MathContext(9, java.math.RoundingMode.HALF_EVEN))
                .doubleValue();
    }

    public String count(long value) {
        return String.format(Locale.ROOT, "%,d", value).replace(",", thousands);
    }

    public char decimalSign() {
        return decimal.charAt(0);
    }

    /** The same text with the decimal sign of the locale, and its sign between thousands. */
    public String figures(String text) {
        return FIGURE.matcher(text)
                .replaceAll(m -> Matcher.quoteReplacement(
                        m.group(1).replace(",", thousands) + (m.group(2) == null ? "" : decimal + m.group(2))));
    }

    /** {@code 22:14}, minutes and seconds. */
    public static String clock(double seconds) {
        long whole = Math.round(seconds);
        return String.format(Locale.ROOT, "%d:%02d", Math.floorDiv(whole, 60), Math.floorMod(whole, 60));
    }

    /** Of a whole run, what was not decided is inconclusive, whatever the reason. */
    public static Outcome ofRun(Outcome outcome) {
        return outcome == Outcome.PASS || outcome == Outcome.FAIL ? outcome : Outcome.INCONCLUSIVE;
    }

    private static Optional<Properties> load(String name) {
        try (InputStream in = Words.class.getResourceAsStream(name)) {
            if (in == null) {
                return Optional.empty();
            }
            Properties properties = new Properties();
            properties.load(new InputStreamReader(in, StandardCharsets.UTF_8));
            return Optional.of(properties);
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }
}

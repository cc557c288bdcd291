// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import com.fasterxml.jackson.databind.JsonNode;
import com.fasterxml.jackson.databind.json.JsonMapper;
import dev.loadwitness.reporter.chart.ChartGroup;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Random;
import java.util.TimeZone;
import java.util.regex.Matcher;
import java.util.regex.Pattern;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

final class ReviewPageTest {
    @TempDir
    private Path folder;

    static String page(Path... logs) throws IOException {
        List<ReviewPage.Subject> runs = new ArrayList<>();
        for (Path log : logs) {
            runs.add(new ReviewPage.Subject(Judge.judge(Judge.Request.of(log)), log));
        }
        return new String(ReviewPage.write(runs, "loadwitness-reporter test"), StandardCharsets.UTF_8);
    }

    static Path sample(String name) {
        return Path.of("..", "sample-runs", name, "run.jsonl");
    }

    @Test
    void thePolicyAllowsExactlyWhatThePageHolds() throws IOException {
        String page = page(sample("power-cut-restarted"));
        String policy = unescaped(first(page, "Content-Security-Policy\" content=\"([^\"]*)\""));
        assertThat(policy).startsWith("default-src 'none'; script-src 'sha256-").doesNotContain("unsafe", "http", "*");
        List<String> scripts = all(page, "<script>(.*?)</script>");
        List<String> styles = all(page, "<style>(.*?)</style>");
        assertThat(scripts).hasSize(2);
        assertThat(styles).hasSize(2);
        scripts.forEach(s -> assertThat(policy).contains(Assets.hash(s)));
        styles.forEach(s -> assertThat(policy).contains(Assets.hash(s)));
        assertThat(page.replaceAll("(?s)<(script|style)>.*?</(script|style)>", ""))
                .doesNotContainPattern("(?i)<[^>]* on[a-z]+=")
                .doesNotContainPattern("(?i)<[^>]* style=")
                .doesNotContainPattern("(?i)<[^>]* (src|href)=\"(?!#|data:)");
    }

    @Test
    void whatALogSaysNeverBecomesMarkup() throws IOException {
        String page = page(hostile().write(folder));
        String rest = page.replaceAll("(?s)<(script|style)>.*?</(script|style)>", "");
        assertThat(rest)
                .doesNotContain("<img", "<b>bold", "<!--")
                .doesNotContainPattern("[\\u202A-\\u202E\\u2066-\\u2069\\u2028]");
        assertThat(all(page, "<script")).as("two scripts and the data").hasSize(3);
        assertThat(rest).contains("&lt;img src=x onerror=alert(1)&gt;").contains("⟨U+202E⟩");
        JsonNode data = data(page);
        assertThat(data.at("/runs/0/channels").toString()).contains("</script>");
    }

    static LogBuilder hostile() {
        String bad = "</script><script>alert(1)</script><img src=x onerror=alert(1)><!-- \u202Egnp.exe\u2028 \" ' & \\";
        return LogBuilder.gpuSoak(120, "soak-duration", "mandatory: yes, at-least: 60 s")
                .ticket("FBR\u202E2410 " + bad)
                .describe("gpu.power", c -> c.withComponent("pci " + bad, "label " + bad))
                .describe("gpu.temperature", c -> c.withComponent("pci " + bad, bad))
                .event(60, EventKind.OPERATOR_NOTE, LogBuilder.facts("text", bad, "<b>bold</b>", true))
                .event(70, EventKind.KERNEL_MESSAGE, LogBuilder.facts("text", bad));
    }

    @Test
    void everyReadingOfEveryChannelIsInThePage() throws IOException {
        JsonNode data = data(page(sample("power-cut-restarted")));
        JsonNode run = data.at("/runs/0");
        assertThat(run.at("/stretches/0/samples").asLong()).isEqualTo(653);
        assertThat(run.at("/stretches/0/columns"))
                .hasSize(run.at("/channels").size())
                .hasSize(27);
        assertThat(run.at("/cut/segment").asInt()).isZero();
        assertThat(run.at("/cut/at").asDouble()).isBetween(1303.0, 1305.0);
        assertThat(run.at("/segments")).hasSize(2);
    }

    @Test
    void theLastThreeReadingsBeforeTheEndStandInWords() throws IOException {
        String page = page(sample("power-cut-restarted"));
        String panel = joined(first(page, "(?s)<h2 id=\"end-0\">(.*?)</section>"));
        assertThat(panel)
                .startsWith("The last 3 readings")
                .contains(
                        "The last one is of 21:44 of run time, 2026-11-24 09:34:24 UTC; nothing was recorded after it.")
                .containsPattern("−4 s<br>.*21:40.*−2 s<br>.*21:42.*last<br>.*21:44")
                .contains("Discrete GPU</th><td>74</td><td>74</td><td class=\"now\">74</td>"
                        + "<td class=\"unit\">°C</td><td class=\"change\">steady</td>");
    }

    @Test
    void whatFellBeforeTheEndIsMarked() throws IOException {
        assertThat(joined(first(page(sample("thermal-trip")), "(?s)<h2 id=\"end-0\">(.*?)</section>")))
                .containsPattern("<tr class=\"moved\"><th scope=\"row\">Discrete GPU</th>.*▼ falling");
    }

    @Test
    void howABootEndedIsSaidInASentenceAndItsTablesStandWithTheCriterion() throws IOException {
        assertThat(page(sample("power-cut-restarted")))
                .contains("How the one before ended is not shown. Not excluded: power loss, hard hang,")
                .contains("<summary>Interruption, causes</summary>", "<summary>Interruption, circumstances</summary>")
                .doesNotContain("same-boot no");
    }

    @Test
    void aRunThatCameToItsEndHasNoSuchPanel() throws IOException {
        assertThat(page(sample("clean-pass"))).doesNotContain("id=\"end-0\"").contains(">PASS</h1>");
    }

    @Test
    void evidenceLeadsToItsPlaceInTime() throws IOException {
        String page = page(sample("bad-contact"));
        assertThat(page)
                .containsPattern(
                        "<button type=\"button\" class=\"jump\" data-run=\"0\" data-segment=\"0\" data-from=\"96\\.[0-9]{3}\""
                                + " data-to=\"96\\.[0-9]{3}\" data-chart=\"temperature\">1:36 peak 89\\.0 °C</button>");
    }

    @Test
    void simulatedIsMarkedAndRealIsNot() throws IOException {
        assertThat(page(sample("clean-pass")))
                .contains("<body class=\"simulated\">", "SIMULATED: no machine was measured.");
        assertThat(page(sample("real-quick-check"))).contains("<body>").doesNotContain("class=\"simulated\"");
        assertThat(page(sample("real-quick-check"), sample("clean-pass"))).contains("<body class=\"simulated\">");
    }

    @Test
    void everySampleRunHasAPage() throws IOException {
        for (String name :
                List.of("tampered", "stuck-sensor", "adapter-lost", "real-gpu-worker-killed", "three-attempts/1")) {
            assertThat(page(sample(name))).as(name).contains("</html>");
        }
    }

    @Test
    void theSameLogGivesTheSamePageInEveryLocale() throws IOException {
        Locale locale = Locale.getDefault();
        TimeZone zone = TimeZone.getDefault();
        String plain = page(sample("power-cut"));
        try {
            Locale.setDefault(Locale.forLanguageTag("ar-EG-u-nu-arab"));
            TimeZone.setDefault(TimeZone.getTimeZone("Asia/Kathmandu"));
            assertThat(page(sample("power-cut"))).isEqualTo(plain);
        } finally {
            Locale.setDefault(locale);
            TimeZone.setDefault(zone);
        }
    }

    @Test
    void theLicenceOfTheLibraryGoesWithIt() throws IOException {
        assertThat(page(sample("real-quick-check")))
                .contains(
                        "The MIT License (MIT)",
                        "Copyright (c) 2022 Leon Sorokin",
                        "THE SOFTWARE IS PROVIDED &quot;AS IS&quot;");
    }

    /** Twelve stages, forty channels with noise, three hundred events. */
    static LogBuilder crowded(double stageSeconds) {
        Random noise = new Random(42);
        LogBuilder log = LogBuilder.laptop();
        for (int i = 1; i <= 12; i++) {
            if (i % 2 == 0) {
                log.soak("soak-" + i, stageSeconds);
            } else {
                log.idle("idle-" + i, stageSeconds);
            }
        }
        for (int i = 0; i < 16; i++) {
            double offset = i;
            log.channel(
                    Channel.of("cpu.core" + i + ".temperature", Metric.TEMPERATURE, Role.CPU, "hwmon/coretemp")
                            .withComponent("coretemp", "Core " + i),
                    m -> 60 + offset + Math.rint(noise.nextGaussian() * 2));
        }
        for (String rail :
                List.of("in0", "in1", "in2", "in3", "in4", "in5", "in6", "in7", "12v", "5v", "3v3", "vcore", "vbat")) {
            log.channel(
                    Channel.of("board." + rail, Metric.VOLTAGE, Role.BOARD, "hwmon/board")
                            .withComponent("", rail),
                    m -> 12 + Math.rint(noise.nextGaussian() * 20) / 1000);
        }
        log.curve("gpu.power", m -> (m.loaded() ? 140 : 12) + Math.rint(noise.nextGaussian() * 30) / 10);
        for (int i = 0; i < 300; i++) {
            log.event(
                    (i + 0.5) * stageSeconds * 12 / 300,
                    i % 40 == 0 ? EventKind.COMPUTE_ERROR : EventKind.KERNEL_MESSAGE,
                    LogBuilder.facts("text", "event number " + i, "role", "gpu-discrete"));
        }
        return log;
    }

    /** The sizes that docs/review.md states. */
    @Test
    void anHourAtOneASecondWithFortyChannelsIsASmallPage() throws IOException {
        LogBuilder log = crowded(300);
        List<Channel> channels = new ArrayList<>();
        log.eachChannel(channels::add);
        assertThat(channels).hasSizeGreaterThanOrEqualTo(40);
        String page = page(log.write(folder));
        assertThat(page.length()).isBetween(200_000, 600_000);
        assertThat(all(page, "<li class=\"(fault|notice|detail)\">")).hasSizeGreaterThan(300);
    }

    @Test
    void moreThanTwoRunsAreRefused() {
        assertThatThrownBy(() -> page(sample("power-cut"), sample("power-cut"), sample("power-cut")))
                .isInstanceOf(IllegalArgumentException.class);
    }

    @Test
    void everyMetricThatIsKnownHasAChartOfItsKind() throws IllegalAccessException {
        for (java.lang.reflect.Field field : dev.loadwitness.runlog.Metric.class.getFields()) {
            if (field.getType() == dev.loadwitness.runlog.Metric.class) {
                assertThat(ChartGroup.of((dev.loadwitness.runlog.Metric) field.get(null)))
                        .as(field.getName())
                        .isNotEqualTo(ChartGroup.OTHER);
            }
        }
    }

    /** Without the line ends between elements, which nobody sees. */
    private static String joined(String markup) {
        return markup.replace(">\n<", "><");
    }

    private static JsonNode data(String page) throws IOException {
        return JsonMapper.builder()
                .build()
                .readTree(first(page, "(?s)<script type=\"application/json\" id=\"data\">(.*?)</script>"));
    }

    private static String first(String page, String pattern) {
        Matcher m = Pattern.compile(pattern).matcher(page);
        assertThat(m.find()).as(pattern).isTrue();
        return m.group(1);
    }

    private static List<String> all(String page, String pattern) {
        return Pattern.compile(pattern, Pattern.DOTALL)
                .matcher(page)
                .results()
                .map(r -> r.groupCount() == 0 ? r.group() : r.group(1))
                .toList();
    }

    private static String unescaped(String text) {
        String plain = text;
        for (Map.Entry<String, String> e :
                Map.of("&#39;", "'", "&quot;", "\"", "&amp;", "&").entrySet()) {
            plain = plain.replace(e.getKey(), e.getValue());
        }
        return plain;
    }
}

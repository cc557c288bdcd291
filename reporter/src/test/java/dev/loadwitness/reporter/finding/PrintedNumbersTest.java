// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.finding;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.within;

import com.fasterxml.jackson.databind.JsonNode;
import com.fasterxml.jackson.databind.ObjectMapper;
import dev.loadwitness.reporter.criteria.heat.WarmLogs;
import dev.loadwitness.reporter.text.VerdictJson;
import dev.loadwitness.reporter.verdict.Judge;
import java.io.IOException;
import java.math.BigDecimal;
import java.math.RoundingMode;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.Set;
import java.util.TreeSet;
import java.util.regex.MatchResult;
import java.util.regex.Matcher;
import java.util.regex.Pattern;
import java.util.stream.Stream;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/** What a finding prints as measured, limit and margin is the number beside it in the JSON, rounded. */
final class PrintedNumbersTest {
    private static final Pattern NUMBER = Pattern.compile("[-+]?[0-9][0-9,]*(?:\\.([0-9]+))?");
    private static final Pattern TIME =
            Pattern.compile("([-+]?)(?=[0-9])(?:([0-9]+) h ?)?(?:([0-9]+) min ?)?(?:([0-9.]+) s)?");
    private static final Pattern ONLY_A_NUMBER = Pattern.compile("[-+]?[0-9.,]+( (%|°C|K|W|V|K/W))?");

    @TempDir
    Path folder;

    /** The sample runs, and one machine with what none of them has: limits to both sides. */
    private List<Path> logs() throws IOException {
        List<Path> logs = new ArrayList<>();
        try (Stream<Path> files = Files.walk(Path.of("..", "sample-runs"))) {
            files.filter(f -> f.endsWith("run.jsonl")).sorted().forEach(logs::add);
        }
        logs.add(new WarmLogs()
                .soak("soak", 1500, 100, 15)
                .log()
                .criterion("thermal-resistance", "mandatory: no, at-least: 0.3 K/W, at-most: 0.5 K/W")
                .criterion("rails", "mandatory: yes")
                .jobSheet("rails: [{name: main, kind: fixed, nominal: 3.3 V, voltage-after: 3.1349 V}]\n")
                .write(folder));
        return logs;
    }

    @Test
    void everyPrintedNumberIsTheOneInTheJsonRounded() throws IOException {
        Set<String> sides = new TreeSet<>();
        Set<String> units = new TreeSet<>();
        for (Path log : logs()) {
            byte[] json = VerdictJson.write(Judge.judge(Judge.Request.of(log)).verdict());
            for (JsonNode finding : new ObjectMapper().readTree(json).get("findings")) {
                String about = log + " " + finding.get("criterion").asText();
                JsonNode numbers = finding.get("numbers");
                if (numbers.isNull()) {
                    assertThat(finding.get("measured").asText()).as(about).doesNotMatch(ONLY_A_NUMBER);
                    assertThat(finding.get("margin").asText()).as(about).isEmpty();
                } else {
                    units.add(numbers.get("unit").asText());
                    sides.add(numbers.get("side").asText());
                    isPrinted(about, finding, numbers);
                    isItsDistanceFromTheLimit(about, numbers);
                }
            }
        }
        assertThat(sides).containsExactly("at-least", "at-most", "between", "null", "within");
        assertThat(units).containsExactly("%", "%/h", "1", "Cel", "K", "K/W", "V", "W", "s");
    }

    private static void isPrinted(String about, JsonNode finding, JsonNode numbers) {
        boolean time = numbers.get("unit").asText().equals("s");
        String measured = finding.get("measured").asText();
        if (numbers.get("value").isNull()) {
            assertThat(measured).as(about).doesNotMatch(ONLY_A_NUMBER);
        } else {
            same(about + " measured", time, measured, numbers.get("value"));
        }
        String margin = finding.get("margin").asText();
        assertThat(numbers.get("margin").isNull()).as(about).isEqualTo(margin.isEmpty());
        if (!margin.isEmpty()) {
            same(about + " margin", time, margin, numbers.get("margin"));
        }
        List<JsonNode> limits = new ArrayList<>();
        for (String name : List.of("limit", "upperLimit")) {
            if (!numbers.get(name).isNull()) {
                limits.add(numbers.get(name));
            }
        }
        same(about + " limit", time, finding.get("limit").asText(), limits.toArray(JsonNode[]::new));
    }

    /** The first numbers of a text are these, rounded as it has them. */
    private static void same(String about, boolean time, String text, JsonNode... numbers) {
        List<MatchResult> printed =
                (time ? TIME : NUMBER).matcher(text).results().toList();
        assertThat(printed).as(about + ": " + text).hasSizeGreaterThanOrEqualTo(numbers.length);
        for (int i = 0; i < numbers.length; i++) {
            BigDecimal number = numbers[i].decimalValue();
            String group = printed.get(i).group();
            // The words say which way it goes.
            BigDecimal told = text.endsWith(" gained") ? number.negate() : number;
            assertThat(time ? timed(group, told) : rounded(group, told))
                    .as(about + ": " + number + " as " + text)
                    .isZero();
        }
    }

    private static int rounded(String printed, BigDecimal number) {
        BigDecimal said = new BigDecimal(printed.replace(",", ""));
        return said.compareTo(number.setScale(said.scale(), RoundingMode.HALF_UP));
    }

    /** Rounded down to seconds, or to tenths below a minute; the sign stands before. */
    private static int timed(String printed, BigDecimal seconds) {
        Matcher parts = TIME.matcher(printed);
        assertThat(parts.matches()).isTrue();
        BigDecimal said =
                part(parts.group(2), 3600).add(part(parts.group(3), 60)).add(part(parts.group(4), 1));
        int decimals = said.compareTo(BigDecimal.valueOf(60)) < 0 ? 1 : 0;
        BigDecimal size = seconds.abs().setScale(decimals, RoundingMode.FLOOR);
        boolean below = parts.group(1).equals("-");
        return below == seconds.signum() < 0 ? said.compareTo(size) : 1;
    }

    private static BigDecimal part(String number, int seconds) {
        return number == null ? BigDecimal.ZERO : new BigDecimal(number).multiply(BigDecimal.valueOf(seconds));
    }

    private static void isItsDistanceFromTheLimit(String about, JsonNode numbers) {
        if (numbers.get("margin").isNull()) {
            return;
        }
        double value = numbers.get("value").asDouble();
        double limit = numbers.get("limit").asDouble();
        double distance =
                switch (numbers.get("side").asText()) {
                    case "at-most" -> limit - value;
                    case "at-least" -> value - limit;
                    case "between" ->
                        Math.min(value - limit, numbers.get("upperLimit").asDouble() - value);
                    default -> Double.NaN;
                };
        assertThat(numbers.get("margin").asDouble()).as(about).isCloseTo(distance, within(1e-9 * Math.abs(limit)));
    }
}

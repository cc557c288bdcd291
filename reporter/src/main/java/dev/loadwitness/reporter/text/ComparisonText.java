// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import dev.loadwitness.reporter.comparison.Comparison;
import dev.loadwitness.reporter.comparison.Difference;
import dev.loadwitness.reporter.criteria.Figure.Quantity;
import dev.loadwitness.reporter.criteria.MachineIdentity;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.statistics.Estimate;
import dev.loadwitness.reporter.statistics.Rounding;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.Header;
import java.math.BigDecimal;
import java.time.ZoneOffset;
import java.time.format.DateTimeFormatter;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.stream.Collectors;
import java.util.stream.Stream;

/** A comparison for people: how much differs, which runs these are, the table, then what it leaves out and how to read it. */
public final class ComparisonText {
    private static final DateTimeFormatter MINUTE =
            DateTimeFormatter.ofPattern("uuuu-MM-dd HH:mm 'UTC'", Locale.ROOT).withZone(ZoneOffset.UTC);

    private static final String INDENT = "  ";

    private ComparisonText() {}

    /**
     * One of both, as people know it.
     *
     * @param log where its log lies, as it was given
     */
    public record Side(String log, Verdict verdict) {
        /** Ticket, attempt, date, machine; what is not known is left out. */
        private String name() {
            Header header = verdict.header();
            List<String> parts = new ArrayList<>();
            if (!header.ticket().isBlank()) {
                parts.add(header.ticket());
                verdict.attempts().stream()
                        .filter(a -> a.runId().equals(header.runId()))
                        .forEach(a -> parts.add("attempt " + a.number()));
            }
            parts.add(MINUTE.format(header.utc()));
            String model = MachineIdentity.of(header).model();
            if (!model.isEmpty()) {
                parts.add(model);
            }
            if (header.simulated()) {
                parts.add("SIMULATED");
            }
            return String.join(", ", parts);
        }
    }

    public static String render(Comparison comparison, Side first, Side second, int width) {
        StringBuilder out = new StringBuilder();
        lines(out, summary(comparison), width);
        out.append('\n');
        if (first.log().equals(second.log())) {
            side(out, "Both:   ", first, width);
        } else {
            side(out, "First:  ", first, width);
            side(out, "Second: ", second, width);
        }
        out.append('\n').append(Columns.of(rows(comparison))).append('\n');
        nothingInEither(comparison).forEach(l -> lines(out, l, width));
        notCompared(comparison).forEach(l -> lines(out, l, width));
        comparison.notes().forEach(n -> lines(out, n, width));
        return out.toString();
    }

    static String summary(Comparison comparison) {
        return comparison.compared() + " differences compared, " + comparison.toldApart()
                + " told apart (beyond two standard uncertainties; " + comparison.expectedByChance()
                + " would be by chance alone if nothing had changed).";
    }

    private static void side(StringBuilder out, String label, Side side, int width) {
        String indent = " ".repeat(label.length());
        String before = label;
        for (String text : List.of(
                side.name(),
                side.log(),
                side.verdict().outcome().word() + ": " + side.verdict().sentence())) {
            for (String line : Wrap.lines(text, Math.max(1, width - label.length()))) {
                out.append(before).append(line).append('\n');
                before = indent;
            }
        }
    }

    /** The table, each stage under a line with its name. */
    private static List<List<String>> rows(Comparison comparison) {
        List<List<String>> rows = new ArrayList<>();
        rows.add(List.of("", "first", "second", "difference", "± (k = 2)", "told apart"));
        String stages = null;
        for (Difference d : comparison.differences()) {
            if (isUnknownInBoth(d) || isNothingInEither(d)) {
                continue;
            }
            if (!d.stages().equals(stages)) {
                stages = d.stages();
                rows.add(List.of(where(d), "", "", "", "", ""));
            }
            rows.add(row(d));
        }
        return rows;
    }

    private static String where(Difference d) {
        return d.stages().isEmpty() ? "whole run" : d.stages();
    }

    private static boolean isUnknownInBoth(Difference d) {
        return d.first().estimate().isEmpty() && d.second().estimate().isEmpty();
    }

    /** Nothing was held back, nothing happened: no line of the table each. */
    private static boolean isNothingInEither(Difference d) {
        return !d.first().quantity().ofTheModel()
                && d.first().estimate().filter(e -> e.value() == 0).isPresent()
                && d.second().estimate().filter(e -> e.value() == 0).isPresent();
    }

    private static List<String> row(Difference d) {
        Quantity quantity = d.first().quantity();
        return List.of(
                INDENT + quantity.text(),
                d.first().estimate().map(e -> amount(quantity, e)).orElse("unknown"),
                d.second().estimate().map(e -> amount(quantity, e)).orElse("unknown"),
                d.difference()
                        .map(e ->
                                (e.value() > 0 ? "+" : "") + amount(quantity, e).replace(" °C", " K"))
                        .orElse(""),
                d.difference().map(e -> uncertainty(quantity, e)).orElse(""),
                d.difference().isEmpty() ? "" : d.toldApart() ? "yes" : "no");
    }

    private static String amount(Quantity quantity, Estimate e) {
        return switch (quantity.unit()) {
            case "" -> Long.toString(Math.round(e.value()));
            case "s" -> time(e.value(), value(e));
            default -> value(e) + unit(quantity);
        };
    }

    /** What was counted has none. */
    private static String uncertainty(Quantity quantity, Estimate e) {
        double expanded = Difference.FACTOR * e.standardUncertainty();
        if (isCounted(e)) {
            return e.value() == 0 ? "" : "counted";
        }
        return switch (quantity.unit()) {
            case "" -> Rounding.withUncertainty(0, expanded).uncertainty();
            case "s" -> time(expanded, expanded(e));
            default -> expanded(e) + (quantity == Quantity.PLATEAU ? " K" : unit(quantity));
        };
    }

    /** Below a minute with the digits that are known. */
    private static String time(double seconds, String rounded) {
        double whole = Math.rint(Math.abs(seconds));
        return whole < 60 ? rounded + " s" : (seconds < 0 ? "-" : "") + Texts.duration(whole);
    }

    private static String unit(Quantity quantity) {
        return switch (quantity.unit()) {
            case "Cel" -> " °C";
            case "1/s" -> " units/s";
            default -> " " + quantity.unit();
        };
    }

    /** For example {@code None in either: held back for heat, held back by hardware (ramp, discrete-soak)}. */
    private static List<String> nothingInEither(Comparison comparison) {
        Map<String, List<String>> byStage = new LinkedHashMap<>();
        comparison.differences().stream()
                .filter(ComparisonText::isNothingInEither)
                .forEach(d -> byStage.computeIfAbsent(where(d), k -> new ArrayList<>())
                        .add(d.first().quantity().text()));
        Map<String, List<String>> byQuantities = new LinkedHashMap<>();
        byStage.forEach((stage, quantities) -> byQuantities
                .computeIfAbsent(String.join(", ", quantities), k -> new ArrayList<>())
                .add(stage));
        return byQuantities.entrySet().stream()
                .map(e -> "None in either: " + e.getKey() + " (" + String.join(", ", e.getValue()) + ").")
                .toList();
    }

    /** One line for all quantities of a stage that are missing for the same reason. */
    private static List<String> notCompared(Comparison comparison) {
        Map<Missing, List<String>> byReason = comparison.differences().stream()
                .filter(d -> d.difference().isEmpty())
                .collect(Collectors.groupingBy(
                        Missing::of,
                        LinkedHashMap::new,
                        Collectors.mapping(d -> d.first().quantity().text(), Collectors.toList())));
        return byReason.entrySet().stream()
                .map(e -> "Not compared in " + e.getKey().stages() + ": " + String.join(", ", e.getValue()) + " ("
                        + e.getKey().why() + ").")
                .toList();
    }

    /** What the quantities of one line have in common. */
    private record Missing(String stages, String why) {
        static Missing of(Difference d) {
            String first = d.first().why();
            String second = d.second().why();
            String both = Stream.of("first: " + first, "second: " + second)
                    .filter(s -> !s.endsWith(": "))
                    .collect(Collectors.joining("; "));
            return new Missing(where(d), first.equals(second) ? "both: " + first : both);
        }
    }

    static String value(Estimate e) {
        return rounded(e).value();
    }

    static String expanded(Estimate e) {
        return rounded(e).uncertainty();
    }

    /** Counted, or told by a counter: nothing in it but the last bits of a sum. */
    private static boolean isCounted(Estimate e) {
        return Difference.FACTOR * e.standardUncertainty() <= Math.abs(e.value()) * 1e-9 + 1e-12;
    }

    /** By the expanded uncertainty; what has none, to a tenth. */
    private static Rounding.Rounded rounded(Estimate e) {
        if (!isCounted(e)) {
            return Rounding.withUncertainty(e.value(), Difference.FACTOR * e.standardUncertainty());
        }
        boolean whole = BigDecimal.valueOf(e.value()).stripTrailingZeros().scale() <= 0;
        return new Rounding.Rounded(Rounding.toPlaces(e.value(), whole ? 0 : 1), "0");
    }

    static void lines(StringBuilder out, String text, int width) {
        Wrap.lines(text, width).forEach(l -> out.append(l).append('\n'));
    }
}

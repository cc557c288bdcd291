// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import dev.loadwitness.reporter.comparison.Comparison;
import dev.loadwitness.reporter.comparison.Difference;
import dev.loadwitness.reporter.criteria.Figure;
import dev.loadwitness.reporter.statistics.Estimate;
import dev.loadwitness.reporter.statistics.Rounding;
import dev.loadwitness.runlog.Header;
import java.util.ArrayList;
import java.util.List;

/** A comparison for people: what can be told apart first, then the whole table, then how to read it. */
public final class ComparisonText {
    private ComparisonText() {}

    public static String render(Comparison comparison, int width) {
        StringBuilder out = new StringBuilder();
        lines(out, summary(comparison), width);
        out.append('\n');
        lines(out, "First:  " + run(comparison.first()), width);
        lines(out, "Second: " + run(comparison.second()), width);
        out.append('\n');
        List<List<String>> rows = new ArrayList<>();
        rows.add(List.of("stage", "quantity", "first", "second", "difference", "± (k = 2)", "told apart"));
        for (Difference d : comparison.differences()) {
            rows.add(row(d));
        }
        out.append(Columns.of(rows)).append('\n');
        comparison.differences().stream()
                .filter(d -> d.difference().isEmpty())
                .forEach(d -> lines(
                        out,
                        "Not compared: " + d.stages() + " "
                                + d.first().quantity().text() + ", " + d.why() + ".",
                        width));
        comparison.notes().forEach(n -> lines(out, n, width));
        return out.toString();
    }

    static String summary(Comparison comparison) {
        return comparison.compared() + " differences compared, " + comparison.significant()
                + " told apart (beyond two standard uncertainties; " + comparison.expectedByChance()
                + " would be by chance alone if nothing had changed).";
    }

    private static String run(Header header) {
        return header.runId() + ", " + header.utc() + (header.ticket().isEmpty() ? "" : ", " + header.ticket())
                + (header.simulated() ? ", SIMULATED" : "");
    }

    private static List<String> row(Difference d) {
        Figure.Quantity quantity = d.first().quantity();
        String unit = unit(quantity);
        return List.of(
                d.stages().isEmpty() ? "(run)" : d.stages(),
                quantity.text(),
                d.first().estimate().map(e -> value(e) + unit).orElse("unknown"),
                d.second().estimate().map(e -> value(e) + unit).orElse("unknown"),
                d.difference()
                        .map(e -> (e.value() > 0 ? "+" : "") + value(e) + (unit.equals(" °C") ? " K" : unit))
                        .orElse(""),
                d.difference().map(ComparisonText::expanded).orElse(""),
                d.difference().isEmpty() ? "" : d.significant() ? "yes" : "no");
    }

    private static String unit(Figure.Quantity quantity) {
        return quantity.unit().isEmpty() ? "" : " " + (quantity.unit().equals("Cel") ? "°C" : quantity.unit());
    }

    static String value(Estimate e) {
        return rounded(e).value();
    }

    static String expanded(Estimate e) {
        return rounded(e).uncertainty();
    }

    /** By the expanded uncertainty; what has none, a counter, to a tenth. */
    private static Rounding.Rounded rounded(Estimate e) {
        double expanded = Difference.FACTOR * e.standardUncertainty();
        if (expanded > Math.abs(e.value()) * 1e-9 + 1e-12) {
            return Rounding.withUncertainty(e.value(), expanded);
        }
        boolean whole = e.value() == Math.rint(e.value());
        return new Rounding.Rounded(Rounding.toPlaces(e.value(), whole ? 0 : 1), "0");
    }

    static void lines(StringBuilder out, String text, int width) {
        Wrap.lines(text, width).forEach(l -> out.append(l).append('\n'));
    }
}

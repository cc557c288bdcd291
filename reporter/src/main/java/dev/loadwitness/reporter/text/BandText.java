// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import dev.loadwitness.reporter.baseline.Band;
import dev.loadwitness.reporter.statistics.Rounding;
import dev.loadwitness.reporter.statistics.ToleranceInterval;
import java.util.ArrayList;
import java.util.List;
import java.util.stream.Collectors;

/** A run against the band of its model, for people. */
public final class BandText {
    private BandText() {}

    public static String render(Band band, int width) {
        StringBuilder out = new StringBuilder();
        ComparisonText.lines(out, sentence(band), width);
        out.append('\n');
        List<List<String>> rows = new ArrayList<>();
        rows.add(List.of("figure", "this run", "band from", "to", "mean", "s", "k", "machines", ""));
        for (Band.Row row : band.rows()) {
            rows.add(row(row));
        }
        out.append(Columns.of(rows)).append('\n');
        if (!band.notShown().isEmpty()) {
            ComparisonText.lines(
                    out,
                    "Not judged, because this run does not show it: " + String.join("; ", band.notShown()) + ".",
                    width);
        }
        if (band.judged() > 0) {
            ComparisonText.lines(
                    out,
                    "Each band is a normal tolerance interval: with 95 % confidence it holds at least 95 % of sound machines of"
                            + " this model, so that up to one sound machine in 20 lies outside any one of the "
                            + band.judged() + " bands.",
                    width);
        }
        if (band.fromPassesAlone()) {
            ComparisonText.lines(
                    out,
                    "Warning: every run in the store passed. Bands from passes alone are too narrow: add sound machines"
                            + " whatever their verdict was.",
                    width);
        }
        return out.toString();
    }

    private static String sentence(Band band) {
        if (band.missing() > 0) {
            return "No band yet for " + band.run().model() + ": runs of " + band.machines()
                    + (band.machines() == 1 ? " other machine" : " other machines") + " by this procedure and method, "
                    + band.missing() + " more are needed.";
        }
        if (band.judged() == 0) {
            return "No band: none of this run's figures is known, with any spread, from " + Band.LEAST_MACHINES
                    + " other machines.";
        }
        if (band.outside().isEmpty()) {
            return "As its like: " + (band.notShown().isEmpty() ? "all " : "") + band.judged()
                    + " figures lie within the bands of " + band.machines() + " other machines.";
        }
        return "Not as its like, whatever its limits say: "
                + band.outside().stream()
                        .map(r -> r.figure() + " of "
                                + number(r.value(), r.interval().get().deviation())
                                + (r.value() < r.interval().get().low() ? " is below its band" : " is above its band"))
                        .collect(Collectors.joining("; "))
                + " (" + band.judged() + " figures judged, " + band.machines() + " other machines).";
    }

    private static List<String> row(Band.Row row) {
        if (row.interval().isEmpty()) {
            String why = row.count() < Band.LEAST_MACHINES ? "too few machines" : "no spread: not judged";
            return List.of(
                    row.figure(),
                    number(row.value(), Math.abs(row.value()) / 100),
                    "",
                    "",
                    "",
                    "",
                    "",
                    "" + row.count(),
                    why);
        }
        ToleranceInterval i = row.interval().get();
        return List.of(
                row.figure(),
                number(row.value(), i.deviation()),
                number(i.low(), i.deviation()),
                number(i.high(), i.deviation()),
                number(i.mean(), i.deviation()),
                Rounding.withUncertainty(0, i.deviation()).uncertainty(),
                Rounding.toPlaces(i.factor(), 3),
                Integer.toString(row.count()),
                row.outside() ? "OUTSIDE" : "");
    }

    /** To a tenth of the spread: the last digit must not decide what is seen to lie outside. */
    private static String number(double value, double spread) {
        return Rounding.withUncertainty(value, spread / 10).value();
    }
}

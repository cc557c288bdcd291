// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import dev.loadwitness.reporter.chart.ChartGroup;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Table;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.Need;
import java.util.Comparator;
import java.util.List;
import java.util.stream.Collectors;
import java.util.stream.Stream;
import org.jspecify.annotations.Nullable;

/** What the page says of findings. */
final class Findings {
    private Findings() {}

    static List<Finding> worstFirst(ReviewedRun run) {
        return run.verdict().findings().stream()
                .sorted(Comparator.comparingInt(Findings::rank))
                .toList();
    }

    private static int rank(Finding f) {
        int open =
                switch (f.outcome()) {
                    case FAIL -> 0;
                    case INCONCLUSIVE -> 1;
                    case NOT_MEASURED -> 2;
                    case PASS -> 3;
                    case NOT_APPLICABLE -> 4;
                };
        return f.mandatory() ? open : open + 5;
    }

    /** What is as it should be needs no reading. */
    static boolean isOpen(Finding f) {
        return f.outcome() != Outcome.PASS && f.outcome() != Outcome.NOT_APPLICABLE;
    }

    static String about(Finding f) {
        return Stream.of(f.subject(), f.mandatory() ? "" : "advisory")
                .filter(s -> !s.isBlank())
                .collect(Collectors.joining(", "));
    }

    static List<Fact> numbers(Finding f) {
        return Fact.said(
                new Fact("measured", f.measured()),
                new Fact("limit", f.limit()),
                new Fact("from", f.limitOrigin()),
                new Fact("U (k = 2)", f.uncertainty()),
                new Fact("margin", f.margin()));
    }

    static List<Table> tables(Finding f) {
        return f.criterion() == Criterion.INTERRUPTIONS ? f.tables() : List.of();
    }

    /** To the place of evidence in time; null if no record with a time stands there. */
    static @Nullable Jump jump(ReviewedRun run, Finding f, Evidence e) {
        Readings.Found found = e.line().map(run.readings()::found).orElse(null);
        return found == null
                ? null
                : new Jump(run.index(), found.segment(), found.seconds(), found.seconds(), chart(f), words(e));
    }

    static String unplaced(Evidence e) {
        return e.place().isBlank() ? words(e) : e.place() + ": " + words(e);
    }

    private static String words(Evidence e) {
        return (e.at().isBlank() ? "" : e.at() + " ") + e.text();
    }

    /** The chart that shows what a criterion needs to be judged; empty if none does more than another. */
    private static String chart(Finding f) {
        return f.criterion().needs().stream()
                .map(Need::anyOf)
                .flatMap(List::stream)
                .findFirst()
                .map(metric -> ChartGroup.of(metric).key())
                .orElse("");
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import dev.loadwitness.reporter.chart.ChartGroup;
import java.util.Arrays;
import java.util.List;
import java.util.Optional;
import java.util.Set;
import java.util.stream.Collectors;

/**
 * The page as it stands before its script runs: everything in words and tables, and empty places for the charts. How it is
 * laid out is in the templates, {@code src/main/jte}.
 *
 * @param program name and version of this program
 * @param data what the script works on
 */
record Review(List<ReviewedRun> runs, String program, String data) {
    String write() {
        EscapedHtml page = new EscapedHtml();
        JtereviewGenerated.render(page, null, this);
        return page.toString();
    }

    boolean simulated() {
        return runs.stream().anyMatch(r -> r.verdict().header().simulated());
    }

    /** Nothing but the script and style that the page is written with. */
    String policy() {
        return "default-src 'none'; script-src " + Assets.hash(Assets.libraryScript()) + " "
                + Assets.hash(Assets.script()) + "; style-src " + Assets.hash(Assets.libraryStyle()) + " "
                + Assets.hash(Assets.style()) + "; img-src data:; base-uri 'none'; form-action 'none'";
    }

    String title() {
        ReviewedRun first = runs.get(0);
        String ticket = first.verdict().header().ticket();
        return Names.loud(first.outcome()) + (ticket.isBlank() ? "" : ", " + ticket) + ": review of a burn-in run";
    }

    /** Stages of the first run that the second has too. */
    List<String> sharedStages() {
        Set<String> second = runs.get(1).stages().collect(Collectors.toSet());
        return runs.get(0).stages().distinct().filter(second::contains).toList();
    }

    /** Those that a channel of any run belongs to. */
    List<ChartGroup> quantities() {
        return Arrays.stream(ChartGroup.values())
                .filter(q ->
                        runs.stream().flatMap(r -> r.scan().channels().stream()).anyMatch(c -> ChartGroup.of(c) == q))
                .toList();
    }

    List<StageExtremes> extremes(ChartGroup quantity) {
        return runs.stream()
                .map(r -> StageExtremes.of(r, quantity))
                .flatMap(Optional::stream)
                .toList();
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import dev.loadwitness.reporter.plan.SoakPlan;
import dev.loadwitness.reporter.plan.Span;
import java.util.ArrayList;
import java.util.List;

/** A plan for people: the answer, the table, what it rests on. */
public final class PlanText {
    private PlanText() {}

    /**
     * In lines of at most {@code width} columns.
     *
     * @param more sentences about the procedure; empty without one
     */
    public static String render(SoakPlan plan, List<String> more, int width) {
        List<String> lines = new ArrayList<>(Wrap.lines(plan.sentence(), width));
        for (String sentence : more) {
            lines.addAll(Wrap.lines(sentence, width));
        }
        lines.add("");
        lines.add("  confidence   soak");
        for (SoakPlan.Row row : plan.table()) {
            String sure = SoakPlan.percent(row.confidence());
            lines.add((row.confidence() == plan.confidence() ? "> " : "  ")
                    + " ".repeat(Math.max(0, 10 - sure.length())) + sure + "   " + Span.write(row.soakSeconds()));
        }
        for (String warning : plan.warnings()) {
            lines.add("");
            lines.addAll(Wrap.lines("Beware: " + warning, width));
        }
        for (String assumption : plan.assumptions()) {
            lines.add("");
            lines.addAll(Wrap.lines(assumption, width));
        }
        return String.join("\n", lines) + "\n";
    }
}

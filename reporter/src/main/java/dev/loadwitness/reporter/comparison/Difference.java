// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.comparison;

import dev.loadwitness.reporter.criteria.Figure;
import dev.loadwitness.reporter.statistics.Estimate;
import java.util.List;
import java.util.Optional;

/**
 * One quantity of both.
 *
 * @param stages one id, or {@code first → second}; empty for the run as a whole
 * @param difference second less first; empty if either is not known
 * @param cancelled sources of error that both share
 */
public record Difference(
        String stages, Figure first, Figure second, Optional<Estimate> difference, List<String> cancelled) {
    /** How many standard uncertainties a difference must exceed; 95.45 % of a normal distribution lie within. */
    public static final double FACTOR = 2;

    public Difference {
        cancelled = List.copyOf(cancelled);
    }

    static Difference of(String stages, Figure first, Figure second) {
        if (first.estimate().isEmpty() || second.estimate().isEmpty()) {
            return new Difference(stages, first, second, Optional.empty(), List.of());
        }
        Estimate a = first.estimate().get();
        Estimate b = second.estimate().get();
        return new Difference(stages, first, second, Optional.of(b.minus(a)), List.copyOf(b.sharedWith(a)));
    }

    public boolean toldApart() {
        return difference.filter(d -> d.isBeyond(FACTOR)).isPresent();
    }

    /** Why there is no difference; empty if there is one. */
    public String why() {
        return first.estimate().isEmpty()
                ? "first: " + first.why()
                : second.estimate().isEmpty() ? "second: " + second.why() : "";
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import java.util.Collections;
import java.util.Map;
import java.util.Set;
import java.util.TreeMap;
import java.util.TreeSet;

/**
 * A value and what each source of error contributes to its standard uncertainty, with sign: u(source) times how the value moves
 * with it. What two values have from one and the same source cancels in their difference as far as both move alike (GUM 5.2, fully
 * correlated inputs); different sources are independent.
 *
 * @param contributions by name of the source, in the unit of the value
 */
public record Estimate(double value, Map<String, Double> contributions) {
    public Estimate {
        Numbers.requireFinite(value, "value");
        // In the order of the names: sums come out the same on every run.
        Map<String, Double> sorted = new TreeMap<>(contributions);
        sorted.forEach((source, c) -> Numbers.requireFinite(c, source));
        contributions = Collections.unmodifiableMap(sorted);
    }

    /** Combined standard uncertainty: root sum of squares. */
    public double standardUncertainty() {
        double squares = 0;
        for (double c : contributions.values()) {
            squares += c * c;
        }
        return Math.sqrt(squares);
    }

    /** This minus the other; its contributions are the differences of both, source by source. */
    public Estimate minus(Estimate other) {
        Map<String, Double> left = new TreeMap<>(contributions);
        other.contributions.forEach((source, c) -> left.merge(source, -c, Double::sum));
        return new Estimate(value - other.value, left);
    }

    /** Sources that both have. */
    public Set<String> sharedWith(Estimate other) {
        Set<String> shared = new TreeSet<>(contributions.keySet());
        shared.retainAll(other.contributions.keySet());
        return shared;
    }

    /** Whether it differs from zero by more than {@code factor} times its standard uncertainty. */
    public boolean isBeyond(double factor) {
        return Math.abs(value) > factor * standardUncertainty();
    }
}

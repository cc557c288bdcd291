// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.plan;

import java.math.BigDecimal;
import java.math.RoundingMode;
import java.util.ArrayList;
import java.util.List;
import java.util.stream.DoubleStream;

/**
 * How long the soak must be.
 *
 * @param confidence the one asked for, between 0 and 1
 */
public record SoakPlan(Basis basis, double confidence) {
    /** A week: what the longest stage of a procedure may take. */
    public static final double MOST_SECONDS = 168 * 3600;

    /** Our choice: until here the machine itself is still warming up. */
    private static final double WARM_SECONDS = 20 * 60;

    /** Three intervals of a constant rate are within this ratio in 3.6 % of cases (computed, see docs/planning.md). */
    private static final double ALIKE = 1.5;

    private static final int ALIKE_FROM = 3;
    private static final double[] USUAL = {0.80, 0.90, 0.95, 0.99};

    public SoakPlan {
        if (!(confidence > 0 && confidence < 1)) {
            throw new IllegalArgumentException("confidence " + confidence);
        }
    }

    /** One line of the table. */
    public record Row(double confidence, double soakSeconds) {}

    /** Soak for the confidence asked for, rounded up to what a clock is set to. */
    public double soakSeconds() {
        return Span.roundedUp(basis.soakSeconds(confidence));
    }

    public boolean longerThanAnyProcedure() {
        return soakSeconds() > MOST_SECONDS;
    }

    /** The usual confidences and the one asked for, rising. */
    public List<Row> table() {
        return DoubleStream.concat(DoubleStream.of(USUAL), DoubleStream.of(confidence))
                .sorted()
                .distinct()
                .mapToObj(c -> new Row(c, Span.roundedUp(basis.soakSeconds(c))))
                .toList();
    }

    /** The answer. */
    public String sentence() {
        String soak = Span.write(soakSeconds());
        String sure = percent(confidence);
        if (basis instanceof Basis.Known known) {
            return "A fault that strikes every " + Span.write(known.meanSeconds())
                    + " on average shows itself with a probability of " + sure + " in a soak of " + soak + ".";
        }
        if (basis instanceof Basis.Observed observed) {
            int n = observed.seconds().size();
            return "The fault came after " + Span.write(observed.meanSeconds()) + " on average ("
                    + n + (n == 1 ? " interval" : " intervals") + " observed): it shows itself with a probability of "
                    + sure + " in a soak of " + soak + ".";
        }
        Basis.Objective objective = (Basis.Objective) basis;
        int r = objective.allowedFailures();
        return "A mean time between failures of " + Span.write(objective.meanSeconds()) + " is shown with " + sure
                + " confidence by " + soak + " under full load with "
                + (r == 0 ? "no failure" : "at most " + r + (r == 1 ? " failure" : " failures"))
                + ", all attempts since the last work together.";
    }

    /** What the answer rests on. */
    public List<String> assumptions() {
        List<String> said = new ArrayList<>();
        said.add(
                "This holds for faults that come at a constant rate under this load. Those that strike while the machine"
                        + " warms up, at switching on, at waking or when it is moved do not: they need cold starts"
                        + " (cold-starts.yaml, repeat-soak.yaml), not hours.");
        if (basis instanceof Basis.Observed observed) {
            double ifKnown = new Basis.Known(observed.meanSeconds()).soakSeconds(confidence);
            said.add("Were that mean known for certain, " + Span.write(ifKnown) + " would do. "
                    + (observed.seconds().size() == 1
                            ? "One interval says little about the next: each further one that is written down saves hours."
                            : "The rest is the price of having seen only "
                                    + observed.seconds().size() + "."));
        }
        said.add(
                basis instanceof Basis.Objective
                        ? "Shown means: a machine that fails more often than that would get through with so few failures with"
                                + " a probability of " + percent(1 - confidence) + " at most."
                        : "A clean soak then says: had that fault still been there, it would have shown with that"
                                + " probability. It does not say that the machine is sound with that probability.");
        return said;
    }

    /** What should give pause. */
    public List<String> warnings() {
        List<String> warnings = new ArrayList<>();
        double soak = soakSeconds();
        if (longerThanAnyProcedure()) {
            warnings.add(
                    Span.write(soak) + " is more than a week (168 h), the longest that a procedure takes. Ask for less"
                            + " confidence, or find out what brings the fault on and load that instead.");
        } else if (soak > 24 * 3600) {
            warnings.add("That is more than a day: plan for unattended load (README, Cautions).");
        }
        if (soak < WARM_SECONDS) {
            warnings.add(
                    "In " + Span.write(soak) + " a laptop is not warm through (about 20 min, common practice). Do not"
                            + " run less than the procedure asks for.");
        }
        if (basis instanceof Basis.Observed observed && observed.seconds().size() >= ALIKE_FROM) {
            double least = observed.seconds().stream()
                    .mapToDouble(Double::doubleValue)
                    .min()
                    .orElseThrow();
            double most = observed.seconds().stream()
                    .mapToDouble(Double::doubleValue)
                    .max()
                    .orElseThrow();
            if (most <= ALIKE * least) {
                warnings.add(
                        "The intervals are alike (" + Span.write(least) + " to " + Span.write(most)
                                + "). Faults at a constant rate scatter far more: this one looks as if it comes at a certain warmth"
                                + " or time after the start, and the figures above do not hold for it. Repeat starts from cold.");
            }
        }
        return warnings;
    }

    /** {@code 95 %}, {@code 99.5 %}. */
    public static String percent(double share) {
        return BigDecimal.valueOf(share)
                        .movePointRight(2)
                        .setScale(2, RoundingMode.HALF_UP)
                        .stripTrailingZeros()
                        .toPlainString()
                + " %";
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import java.util.ArrayList;
import java.util.List;
import java.util.Locale;
import java.util.stream.DoubleStream;

/**
 * What a measured value may be off by, by origin, after the Guide to the Expression of Uncertainty in Measurement (JCGM 100:2008,
 * the GUM). All parts are standard uncertainties in the unit of the value, and independent of each other.
 *
 * <p>Of the same run's data, calibration and resolution are the same error in every reading and do not shrink with their number;
 * only the statistical part does. Leave the calibration out where the limit is enforced by the same sensor: it errs alike.
 *
 * @param components in the order in which they are to be told
 */
public record UncertaintyBudget(List<Component> components) {
    /** The expanded uncertainty of this factor covers what ±2 standard deviations of a normal error do. */
    private static final double COVERAGE_FACTOR = 2;

    public UncertaintyBudget {
        components = List.copyOf(components);
    }

    /** Where an uncertainty is from, and so what lessens it. */
    public enum Kind {
        /** One error of the sensor for the whole run: only a better calibrated sensor lessens it. */
        CALIBRATION,
        /** Steps of the reading, which a sensor that sticks to them does not average finer. */
        RESOLUTION,
        /** Scatter of independent or autocorrelated readings: more of them lessen it. */
        STATISTICAL;

        public String word() {
            return name().toLowerCase(Locale.ROOT);
        }
    }

    /**
     * One origin.
     *
     * @param standardUncertainty 0 or more
     * @param degreesOfFreedom how well it is known itself; infinite where it is taken as known, at least 1 otherwise
     */
    public record Component(String name, Kind kind, double standardUncertainty, double degreesOfFreedom) {
        public Component {
            Numbers.requireNotNegative(standardUncertainty, "standard uncertainty of " + name);
            if (!(degreesOfFreedom >= 1)) {
                throw new IllegalArgumentException(
                        "degrees of freedom of " + name + " are " + degreesOfFreedom + ", and must be 1 or more");
            }
        }
    }

    /** Exact so far: add to it. */
    public static UncertaintyBudget none() {
        return new UncertaintyBudget(List.of());
    }

    /** An error that stays the same for the whole run. */
    public UncertaintyBudget calibration(String name, double standardUncertainty) {
        return with(new Component(name, Kind.CALIBRATION, standardUncertainty, Double.POSITIVE_INFINITY));
    }

    /**
     * A reading rounded to the nearest step, or one of two whose difference is judged, where it cancels which way they are rounded:
     * an even distribution over one step, {@code step/√12} (GUM 4.3.7, F.2.2.1).
     */
    public UncertaintyBudget rounded(String name, double step) {
        return with(new Component(name, Kind.RESOLUTION, step / Math.sqrt(12), Double.POSITIVE_INFINITY));
    }

    /**
     * A reading in steps of which nobody knows whether they are rounded, down or up, and not corrected: half a step more, {@code
     * √(step²/12 + (step/2)²)}, which is {@code step/√3}.
     */
    public UncertaintyBudget stepped(String name, double step) {
        return with(new Component(name, Kind.RESOLUTION, step / Math.sqrt(3), Double.POSITIVE_INFINITY));
    }

    /**
     * The mean of a series, scaled into the unit of the value. Its degrees of freedom are those of its effective count, at least
     * one: the autocorrelation is only known as well as the series knows it.
     *
     * @param sensitivity change of the value for a change of one in the mean (GUM 5.1.3)
     * @throws IllegalArgumentException when the series was too short for a standard error
     */
    public UncertaintyBudget mean(String name, CorrelatedMean mean, double sensitivity) {
        return statistical(name, Math.abs(sensitivity) * mean.standardError(), Math.max(1, mean.effectiveCount() - 1));
    }

    /** Scatter, known from so many degrees of freedom. */
    public UncertaintyBudget statistical(String name, double standardUncertainty, double degreesOfFreedom) {
        return with(new Component(name, Kind.STATISTICAL, standardUncertainty, degreesOfFreedom));
    }

    private UncertaintyBudget with(Component component) {
        List<Component> all = new ArrayList<>(components);
        all.add(component);
        return new UncertaintyBudget(all);
    }

    /** Combined standard uncertainty: the root of the sum of squares (GUM 5.1.2). */
    public double standard() {
        return root(components.stream().mapToDouble(Component::standardUncertainty));
    }

    /** Effective degrees of freedom by Welch and Satterthwaite (GUM G.4.1); infinite for an exact value. */
    public double degreesOfFreedom() {
        double combined = standard();
        double sum = components.stream()
                .filter(c -> combined > 0 && Double.isFinite(c.degreesOfFreedom()))
                .mapToDouble(c -> StrictMath.pow(c.standardUncertainty() / combined, 4) / c.degreesOfFreedom())
                .sum();
        return sum == 0 ? Double.POSITIVE_INFINITY : 1 / sum;
    }

    /** {@code k} of {@link #expanded}: 2, or as much of Student's t as leaves the same in its tails (GUM G.3.2, 95.45 %). */
    public double coverageFactor() {
        return factor(COVERAGE_FACTOR);
    }

    /** Expanded uncertainty {@code U = k·u}. */
    public double expanded() {
        return coverageFactor() * standard();
    }

    /** As many standard uncertainties as leave what {@code normal} standard deviations of a normal error leave beyond them. */
    double factor(double normal) {
        double freedom = degreesOfFreedom();
        return normal == 0 || Double.isInfinite(freedom)
                ? normal
                // The lower tail: close to 1 a probability has no digits left.
                : -Quantiles.studentT(Quantiles.normalProbability(-normal), freedom);
    }

    /** Probability that the error stays below {@code room}; 0 or 1 for an exact value, on the border 1. */
    double probabilityBelow(double room) {
        double u = standard();
        if (u == 0) {
            return room >= 0 ? 1 : 0;
        }
        return Quantiles.studentTProbability(room / u, degreesOfFreedom());
    }

    /** What would have to become smaller. */
    public enum Remedy {
        /** More readings: the scatter is the trouble, and it falls with the root of their number. */
        MORE_DATA,
        /** A better calibrated sensor. */
        BETTER_CALIBRATION,
        /** Neither: the steps of the readings alone are too coarse, or the value lies on the limit. */
        NONE
    }

    /**
     * What it takes to decide.
     *
     * @param standardUncertainty what the part named would have to fall to; NaN with {@link Remedy#NONE}
     * @param timesTheData how many times the data that takes; NaN for any other than {@link Remedy#MORE_DATA}
     */
    public record Settlement(Remedy remedy, double standardUncertainty, double timesTheData) {}

    /**
     * What would bring the guard band down to {@code room}, if the value itself stays. More data come first: they cost only time.
     *
     * @param room distance between value and limit, 0 or more
     * @param factor standard uncertainties in the guard band, above 0
     */
    Settlement settlement(double room, double factor) {
        double allowed = room / factor;
        double steps = of(Kind.RESOLUTION);
        double calibration = of(Kind.CALIBRATION);
        double scatter = of(Kind.STATISTICAL);
        double left = Math.sqrt(Math.max(0, allowed * allowed - steps * steps - calibration * calibration));
        if (left > 0 && scatter > 0) {
            return new Settlement(Remedy.MORE_DATA, left, Math.max(1, (scatter / left) * (scatter / left)));
        }
        double calibrated = Math.sqrt(Math.max(0, allowed * allowed - steps * steps - scatter * scatter));
        if (calibrated > 0 && calibration > 0) {
            return new Settlement(Remedy.BETTER_CALIBRATION, calibrated, Double.NaN);
        }
        return new Settlement(Remedy.NONE, Double.NaN, Double.NaN);
    }

    private double of(Kind kind) {
        return root(components.stream().filter(c -> c.kind() == kind).mapToDouble(Component::standardUncertainty));
    }

    private static double root(DoubleStream parts) {
        double[] all = parts.toArray();
        if (all.length == 1) {
            return all[0];
        }
        double squares = 0;
        for (double part : all) {
            squares += part * part;
        }
        return Math.sqrt(squares);
    }
}

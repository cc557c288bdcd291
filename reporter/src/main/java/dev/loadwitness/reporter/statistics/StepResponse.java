// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;
import java.util.Optional;
import java.util.SplittableRandom;

/**
 * Where a temperature would come to rest if load, fans and room stayed as they are: T(t) = T∞ − A·e^(−t/τ), or with two time
 * constants where that fits clearly better, fitted to block means of a window in which nothing was switched.
 *
 * <p>The scatter about the curve tells how well the curve is known, not whether it is the right one. Machines have more time
 * constants than any curve that can be fitted to an hour, and one exponential alone then ends too low. So the interval contains
 * how far fits of other order, and fits to the last half and the last third alone, disagree. Method and limits:
 * {@code docs/computation.md}.
 *
 * @param told whether the window was long enough to tell; if not, plateau and interval are NaN
 * @param order number of time constants, 1 or 2
 * @param plateau T∞
 * @param halfWidth of the 95 % interval about the plateau: {@code statistical} + {@code discrepancy} + one resolution
 * @param statistical half width by the block bootstrap alone
 * @param discrepancy largest disagreement with the other fits
 * @param timeConstantSeconds the longest that the window shows; NaN if nothing moved
 * @param timeConstantError standard error of its fit, for what it is worth: the readings resemble their neighbours
 * @param fastSeconds the shorter time constant of a second-order fit; else NaN
 * @param windowSeconds length of the window
 */
public record StepResponse(
        Told told,
        int order,
        double plateau,
        double halfWidth,
        double statistical,
        double discrepancy,
        double timeConstantSeconds,
        double timeConstantError,
        double fastSeconds,
        double windowSeconds) {
    /** Whether a window tells where it would end. */
    public enum Told {
        YES,
        /** It moves, and the window is shorter than three of its time constants: it could still go anywhere. */
        WINDOW_TOO_SHORT,
        /** Too few points. */
        TOO_FEW
    }

    /** Most block means that are fitted. */
    static final int MOST_BLOCKS = 120;

    static final int LEAST_BLOCKS = 24;

    /** A first-order response is within 5 % of its end after three time constants. */
    static final double LEAST_TIME_CONSTANTS = 3;

    /** Difference of the Bayesian information criterion called very strong (Kass and Raftery 1995, from memory). */
    private static final double CLEARLY_BETTER = 10;

    /** What moves by less than this through half a window moves too little to fit a time constant to. In kelvin. */
    private static final double LEAST_MOVE = 0.1;

    /** Parts as slow as this are allowed for, or as slow as the window is long: a closed case on a bench (our choice). */
    private static final double SLOWEST_SECONDS = 3600;

    /** An interval wider than ± this many kelvin tells nothing that anyone could use. */
    private static final double WIDEST = 6;

    private static final int REPLICATES = 1000;
    private static final long SEED = 0x5EED_0F_B007L;
    private static final int BOOTSTRAP_BLOCKS = 10;
    private static final double COVERAGE = 0.95;

    /**
     * Fits a window.
     *
     * @param seconds of each mean, equally far apart, rising
     * @param values means over equal times; NaN where nothing was read
     * @param resolution smallest step of the readings; a sensor that rounds down, or sticks, is off by up to one step whatever
     *     the number of readings
     */
    public static StepResponse of(double[] seconds, double[] values, double resolution) {
        Numbers.requireNotNegative(resolution, "resolution");
        Points all = Points.of(seconds, values);
        if (all.size() < LEAST_BLOCKS) {
            return nothing(Told.TOO_FEW, Double.NaN, all);
        }
        double window = all.window();
        Optional<CurveFit> first = ExponentialApproach.FIRST_ORDER.fit(all.x, all.y);
        Optional<CurveFit> second = ExponentialApproach.SECOND_ORDER
                .fit(all.x, all.y)
                .map(StepResponse::slowerLast)
                .filter(f -> usable(f, window));
        boolean twoTerms = first.isPresent() && second.isPresent() && clearlyBetter(second.get(), first.get());
        Optional<CurveFit> chosen = twoTerms ? second : first.filter(f -> usable(f, window));
        Tail half = Tail.of(all.last(all.size() / 2), resolution);
        Tail third = Tail.of(all.last(all.size() / 3), resolution);
        if (chosen.isEmpty()) {
            return half.flat ? level(all, half, third, resolution) : nothing(Told.WINDOW_TOO_SHORT, Double.NaN, all);
        }
        CurveFit fit = chosen.get();
        int slow = fit.parameters().length - 1;
        double slowest = StrictMath.exp(fit.parameters()[slow]);
        double unexplained = unexplained(fit, all);
        boolean explained = half.flat || (Double.isNaN(half.plateau) && unexplained < least(resolution));
        double slowestHere = explained ? slowest : Math.max(slowest, half.timeConstant);
        if (!(window >= LEAST_TIME_CONSTANTS * slowestHere)) {
            return nothing(Told.WINDOW_TOO_SHORT, slowestHere, all);
        }
        double plateau = fit.parameters()[0];
        double discrepancy = Math.max(half.apart(plateau, slowest), third.apart(plateau, slowest));
        if (!twoTerms && second.isPresent()) {
            discrepancy = Math.max(discrepancy, Math.abs(second.get().parameters()[0] - plateau));
        }
        discrepancy += stillToCome(window) * (unexplained + resolution / 2);
        double statistical = bootstrap(fit);
        double halfWidth = statistical + discrepancy + resolution;
        if (halfWidth > WIDEST) {
            return nothing(Told.WINDOW_TOO_SHORT, slowestHere, all);
        }
        return new StepResponse(
                Told.YES,
                twoTerms ? 2 : 1,
                plateau,
                halfWidth,
                statistical,
                discrepancy,
                slowest,
                slowest * fit.standardErrors()[slow],
                twoTerms ? StrictMath.exp(fit.parameters()[2]) : Double.NaN,
                window);
    }

    private static StepResponse nothing(Told told, double slowest, Points all) {
        return new StepResponse(
                told,
                0,
                Double.NaN,
                Double.NaN,
                Double.NaN,
                Double.NaN,
                slowest,
                Double.NaN,
                Double.NaN,
                all.size() < 2 ? 0 : all.window());
    }

    /** Nothing moved: the plateau is where it stood. */
    private static StepResponse level(Points all, Tail half, Tail third, double resolution) {
        CorrelatedMean mean = CorrelatedMean.of(all.last(all.size() / 2).y);
        double t = Quantiles.studentT((1 + COVERAGE) / 2, Math.max(1, mean.effectiveCount() - 1));
        double statistical = t * mean.standardError();
        double discrepancy = Math.abs(third.end - half.end)
                + stillToCome(all.window()) * (Math.abs(half.slope) * all.window() / 2 + resolution / 2);
        double halfWidth = statistical + discrepancy + resolution;
        if (halfWidth > WIDEST) {
            return nothing(Told.WINDOW_TOO_SHORT, Double.NaN, all);
        }
        return new StepResponse(
                Told.YES,
                1,
                mean.mean(),
                halfWidth,
                statistical,
                discrepancy,
                Double.NaN,
                Double.NaN,
                Double.NaN,
                all.window());
    }

    private static double least(double resolution) {
        return Math.max(LEAST_MOVE, resolution / 2);
    }

    /**
     * How far a rise with the slowest time constant has still to go at the end of the window, as a multiple of what it went
     * through the window's last half: e^(−w/τ) / (e^(−w/2τ) − e^(−w/τ)).
     */
    private static double stillToCome(double window) {
        return 1 / StrictMath.expm1(window / 2 / Math.max(SLOWEST_SECONDS, window));
    }

    /** How far the readings moved away from the fit through the last half of the window. */
    private static double unexplained(CurveFit fit, Points all) {
        int from = all.size() / 2;
        double[] x = Arrays.copyOfRange(all.x, from, all.size());
        double[] y = Arrays.copyOfRange(fit.residuals(), from, all.size());
        return Math.abs(Tail.slope(y, x)) * (x[x.length - 1] - x[0]);
    }

    private static boolean usable(CurveFit fit, double window) {
        double longest = StrictMath.exp(fit.parameters()[fit.parameters().length - 1]);
        return longest <= 3 * window;
    }

    private static boolean clearlyBetter(CurveFit second, CurveFit first) {
        double r = CorrelatedMean.autocorrelation(second.residuals());
        double kept = Double.isNaN(r) || r <= 0 ? 1 : (1 - r) / (1 + r);
        double n = Math.max(2, kept * second.residuals().length);
        return n * StrictMath.log(first.squares() / second.squares()) - 2 * StrictMath.log(n) > CLEARLY_BETTER;
    }

    /** Which of two terms comes first is chance. */
    private static CurveFit slowerLast(CurveFit f) {
        double[] p = f.parameters();
        if (p[2] <= p[4]) {
            return f;
        }
        double[] e = f.standardErrors();
        double[][] w = f.influence();
        return new CurveFit(
                new double[] {p[0], p[3], p[4], p[1], p[2]},
                f.residuals(),
                f.squares(),
                new double[] {e[0], e[3], e[4], e[1], e[2]},
                new double[][] {w[0], w[3], w[4], w[1], w[2]});
    }

    /**
     * Half width by a moving-block bootstrap of the residuals, each replicate fitted by one Gauss–Newton step from the fit. Blocks
     * of a tenth of the window keep the resemblance of neighbours.
     */
    private static double bootstrap(CurveFit fit) {
        double[] residuals = fit.residuals();
        double[] weight = fit.influence()[0];
        int n = residuals.length;
        int length = Math.max(2, n / BOOTSTRAP_BLOCKS);
        double inflate = Math.sqrt((double) n / (n - fit.parameters().length));
        double mean = Arrays.stream(residuals).sum() / n;
        SplittableRandom random = new SplittableRandom(SEED);
        double[] shifts = new double[REPLICATES];
        for (int b = 0; b < REPLICATES; b++) {
            double shift = 0;
            int i = 0;
            while (i < n) {
                int from = random.nextInt(n - length + 1);
                for (int k = 0; k < length && i < n; k++, i++) {
                    shift += weight[i] * (residuals[from + k] - mean);
                }
            }
            shifts[b] = Math.abs(shift) * inflate;
        }
        Arrays.sort(shifts);
        return shifts[(int) Math.ceil(COVERAGE * REPLICATES) - 1];
    }

    /**
     * The end of the window alone.
     *
     * @param flat it moves by less than half a step, which tells of no time constant
     * @param end where a straight line through it ends
     * @param plateau of a fit to it; NaN if it does not determine one
     */
    private record Tail(boolean flat, double slope, double end, double plateau, double timeConstant) {
        static Tail of(Points points, double resolution) {
            double window = points.window();
            double slope = slope(points.y, points.x);
            double end = Arrays.stream(points.y).sum() / points.size() + slope * window / 2;
            if (Math.abs(slope) * window < least(resolution)) {
                return new Tail(true, slope, end, Double.NaN, 0);
            }
            return ExponentialApproach.FIRST_ORDER
                    .fit(points.x, points.y)
                    .filter(f -> StrictMath.exp(f.parameters()[2]) <= window)
                    .map(f -> new Tail(false, slope, end, f.parameters()[0], StrictMath.exp(f.parameters()[2])))
                    .orElse(new Tail(false, slope, end, Double.NaN, Double.POSITIVE_INFINITY));
        }

        /** How far from {@code plateau} it would end: by its own fit, else by going on at its slope for that time constant. */
        double apart(double plateau, double seconds) {
            return Math.abs((Double.isNaN(this.plateau) ? end + slope * seconds : this.plateau) - plateau);
        }

        static double slope(double[] y, double[] x) {
            double middleX = Arrays.stream(x).sum() / x.length;
            double middleY = Arrays.stream(y).sum() / y.length;
            double products = 0;
            double squares = 0;
            for (int i = 0; i < x.length; i++) {
                products += (x[i] - middleX) * (y[i] - middleY);
                squares += (x[i] - middleX) * (x[i] - middleX);
            }
            return products / squares;
        }
    }

    /** Means that were read, from time 0 on. */
    private static final class Points {
        final double[] x;
        final double[] y;

        private Points(double[] x, double[] y) {
            this.x = x;
            this.y = y;
        }

        static Points of(double[] seconds, double[] values) {
            if (seconds.length != values.length) {
                throw new IllegalArgumentException(seconds.length + " times for " + values.length + " values");
            }
            int together = Math.max(1, (seconds.length + MOST_BLOCKS - 1) / MOST_BLOCKS);
            List<double[]> means = new ArrayList<>();
            for (int i = 0; i + together <= seconds.length; i += together) {
                double sumX = 0;
                double sumY = 0;
                int count = 0;
                for (int k = i; k < i + together; k++) {
                    if (!Double.isNaN(values[k])) {
                        sumX += seconds[k];
                        sumY += values[k];
                        count++;
                    }
                }
                if (count > 0) {
                    means.add(new double[] {sumX / count, sumY / count});
                }
            }
            double begin = means.isEmpty() ? 0 : means.get(0)[0];
            return new Points(
                    means.stream().mapToDouble(m -> m[0] - begin).toArray(),
                    means.stream().mapToDouble(m -> m[1]).toArray());
        }

        int size() {
            return x.length;
        }

        double window() {
            return x[x.length - 1] - x[0];
        }

        Points last(int count) {
            double[] end = Arrays.copyOfRange(x, x.length - count, x.length);
            double begin = end[0];
            for (int i = 0; i < end.length; i++) {
                end[i] -= begin;
            }
            return new Points(end, Arrays.copyOfRange(y, y.length - count, y.length));
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import java.util.Optional;
import org.jspecify.annotations.Nullable;

/**
 * A value that nears its end value: T(t) = T∞ − A·e^(−t/τ), or with two such terms. Parameters are T∞, then A and ln τ of each
 * term: the logarithm keeps a time constant positive on every step of the search.
 */
final class ExponentialApproach implements CurveFit.Curve {
    static final ExponentialApproach FIRST_ORDER = new ExponentialApproach(1);
    static final ExponentialApproach SECOND_ORDER = new ExponentialApproach(2);

    /** Time constants that are tried as starting values, from the distance of two points to three windows. */
    private static final int TRIED = 16;

    /** A search that needs more is lost in a valley that the points do not close. */
    private static final int MOST_EVALUATIONS = 100;

    private final int terms;

    private ExponentialApproach(int terms) {
        this.terms = terms;
    }

    @Override
    public double at(double x, double[] p) {
        double value = p[0];
        for (int k = 1; k <= 2 * terms; k += 2) {
            value -= p[k] * StrictMath.exp(-x * StrictMath.exp(-p[k + 1]));
        }
        return value;
    }

    @Override
    public void derivatives(double x, double[] p, double[] into) {
        into[0] = 1;
        for (int k = 1; k <= 2 * terms; k += 2) {
            double rate = StrictMath.exp(-p[k + 1]);
            double left = StrictMath.exp(-x * rate);
            into[k] = -left;
            into[k + 1] = -p[k] * left * x * rate;
        }
    }

    /**
     * The nearest curve. The search starts from the best of a fixed table of time constants, for each of which the rest is a
     * linear problem: the same points always begin at the same place.
     */
    Optional<CurveFit> fit(double[] x, double[] y) {
        double shortest = x[1] - x[0];
        double longest = 3 * (x[x.length - 1] - x[0]);
        double[] tau = new double[TRIED];
        double[][] left = new double[TRIED][x.length];
        for (int i = 0; i < TRIED; i++) {
            tau[i] = shortest * StrictMath.pow(longest / shortest, (double) i / (TRIED - 1));
            for (int k = 0; k < x.length; k++) {
                left[i][k] = -StrictMath.exp(-x[k] / tau[i]);
            }
        }
        double[] best = null;
        double least = Double.POSITIVE_INFINITY;
        for (int i = 0; i < TRIED; i++) {
            for (int j = terms == 1 ? TRIED - 1 : i + 1; j < TRIED; j++) {
                Linear linear = terms == 1 ? Linear.of(y, left[i]) : Linear.of(y, left[i], left[j]);
                if (linear != null && linear.squares < least) {
                    least = linear.squares;
                    best = terms == 1 ? linear.start(tau[i]) : linear.start(tau[i], tau[j]);
                }
            }
        }
        return best == null ? Optional.empty() : CurveFit.of(this, x, y, MOST_EVALUATIONS, best);
    }

    /** Best T∞ and amplitudes for given time constants, by the normal equations: good enough to start from. */
    @SuppressWarnings("ArrayRecordComponent") // a starting point, seen by this class only
    private record Linear(double[] coefficients, double squares) {
        static @Nullable Linear of(double[] y, double[]... terms) {
            int p = terms.length + 1;
            double[][] a = new double[p][p + 1];
            double[] basis = new double[p];
            basis[0] = 1;
            double squares = 0;
            for (int i = 0; i < y.length; i++) {
                for (int k = 1; k < p; k++) {
                    basis[k] = terms[k - 1][i];
                }
                double rise = y[i] - y[0];
                for (int r = 0; r < p; r++) {
                    for (int c = 0; c < p; c++) {
                        a[r][c] += basis[r] * basis[c];
                    }
                    a[r][p] += basis[r] * rise;
                }
                squares += rise * rise;
            }
            double[] right = new double[p];
            for (int r = 0; r < p; r++) {
                right[r] = a[r][p];
            }
            if (!eliminate(a)) {
                return null;
            }
            double[] coefficients = new double[p];
            for (int r = 0; r < p; r++) {
                coefficients[r] = a[r][p];
                squares -= a[r][p] * right[r];
            }
            coefficients[0] += y[0];
            return new Linear(coefficients, squares);
        }

        double[] start(double... taus) {
            double[] parameters = new double[2 * taus.length + 1];
            parameters[0] = coefficients[0];
            for (int k = 0; k < taus.length; k++) {
                parameters[2 * k + 1] = coefficients[k + 1];
                parameters[2 * k + 2] = StrictMath.log(taus[k]);
            }
            return parameters;
        }

        /** Symmetric and positive definite: no pivots needed. False if it is not. */
        private static boolean eliminate(double[][] a) {
            int p = a.length;
            for (int k = 0; k < p; k++) {
                double scale = a[k][k];
                if (!(scale > 1e-9)) {
                    return false;
                }
                for (int c = k; c <= p; c++) {
                    a[k][c] /= scale;
                }
                for (int r = 0; r < p; r++) {
                    double factor = a[r][k];
                    if (r != k && factor != 0) {
                        for (int c = k; c <= p; c++) {
                            a[r][c] -= factor * a[k][c];
                        }
                    }
                }
            }
            return true;
        }
    }
}

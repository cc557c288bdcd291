// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import java.util.Arrays;
import java.util.Optional;
import org.apache.commons.math3.exception.MathIllegalArgumentException;
import org.apache.commons.math3.exception.MathIllegalStateException;
import org.apache.commons.math3.fitting.leastsquares.LeastSquaresBuilder;
import org.apache.commons.math3.fitting.leastsquares.LeastSquaresOptimizer.Optimum;
import org.apache.commons.math3.fitting.leastsquares.LevenbergMarquardtOptimizer;
import org.apache.commons.math3.linear.Array2DRowRealMatrix;
import org.apache.commons.math3.linear.ArrayRealVector;
import org.apache.commons.math3.linear.QRDecomposition;
import org.apache.commons.math3.linear.RealMatrix;
import org.apache.commons.math3.linear.RealVector;
import org.apache.commons.math3.linear.SingularMatrixException;
import org.apache.commons.math3.util.Pair;

/**
 * A curve fitted to points by least squares: Levenberg and Marquardt's method as Commons Math 3.6.1 has it (a translation of
 * MINPACK's lmder), with the curve's own derivatives.
 *
 * @param residuals measured less fitted, in order
 * @param squares sum of the squared residuals
 * @param standardErrors of each parameter, for independent residuals of equal spread: what NIST's StRD certifies, and too small
 *     for readings that resemble their neighbours. NaN where there are no more points than parameters
 * @param influence by how much each parameter rises when one measured value rises by one: (JᵀJ)⁻¹Jᵀ at the solution
 */
@SuppressWarnings("ArrayRecordComponent") // numbers that only this package sees
record CurveFit(
        double[] parameters, double[] residuals, double squares, double[] standardErrors, double[][] influence) {
    private static final double SINGULAR = 1e-12;
    private static final int POLISHING_STEPS = 6;
    private static final double ROUNDING = 1e-11;

    /** A family of curves. */
    interface Curve {
        double at(double x, double[] parameters);

        /** Derivatives by each parameter, into {@code into}. */
        void derivatives(double x, double[] parameters, double[] into);
    }

    /**
     * The nearest curve, from {@code start}; empty if the search does not end after that many evaluations, or the points do not
     * determine it.
     */
    static Optional<CurveFit> of(Curve curve, double[] x, double[] y, int mostEvaluations, double... start) {
        try {
            Optimum found = new LevenbergMarquardtOptimizer()
                    .withCostRelativeTolerance(1e-15)
                    .withParameterRelativeTolerance(1e-13)
                    .withOrthoTolerance(1e-15)
                    .optimize(new LeastSquaresBuilder()
                            .start(start)
                            .target(y)
                            .model(point -> both(curve, x, point.toArray()))
                            .maxEvaluations(mostEvaluations)
                            .maxIterations(mostEvaluations)
                            .build());
            double[] parameters = found.getPoint().toArray();
            return Arrays.stream(parameters).allMatch(Double::isFinite)
                    ? Optional.of(polished(curve, x, y, at(curve, x, y, parameters)))
                    : Optional.empty();
        } catch (MathIllegalStateException | MathIllegalArgumentException e) {
            // Thrown for a singular matrix too: the points say nothing about one of the parameters.
            return Optional.empty();
        }
    }

    /**
     * The search ends where the sum of squares no longer falls visibly, which in the parameters is half of the digits. A few plain
     * Gauss–Newton steps from there find the rest.
     */
    private static CurveFit polished(Curve curve, double[] x, double[] y, CurveFit found) {
        CurveFit best = found;
        for (int step = 0; step < POLISHING_STEPS; step++) {
            double[] next = best.parameters.clone();
            for (int j = 0; j < next.length; j++) {
                for (int i = 0; i < x.length; i++) {
                    next[j] += best.influence[j][i] * best.residuals[i];
                }
            }
            CurveFit there = at(curve, x, y, next);
            if (!(there.squares <= best.squares * (1 + ROUNDING))) {
                return best;
            }
            best = there;
        }
        return best;
    }

    private static Pair<RealVector, RealMatrix> both(Curve curve, double[] x, double[] parameters) {
        double[] values = new double[x.length];
        double[][] jacobian = new double[x.length][parameters.length];
        for (int i = 0; i < x.length; i++) {
            values[i] = curve.at(x[i], parameters);
            curve.derivatives(x[i], parameters, jacobian[i]);
        }
        return new Pair<>(new ArrayRealVector(values, false), new Array2DRowRealMatrix(jacobian, false));
    }

    private static CurveFit at(Curve curve, double[] x, double[] y, double[] parameters) {
        int n = x.length;
        int p = parameters.length;
        double[] residuals = new double[n];
        double[][] jacobian = new double[n][p];
        double squares = 0;
        for (int i = 0; i < n; i++) {
            residuals[i] = y[i] - curve.at(x[i], parameters);
            squares += residuals[i] * residuals[i];
            curve.derivatives(x[i], parameters, jacobian[i]);
        }
        double[] scale = new double[p];
        for (int j = 0; j < p; j++) {
            for (double[] row : jacobian) {
                scale[j] += row[j] * row[j];
            }
            scale[j] = Math.sqrt(scale[j]);
            if (!(scale[j] > 0)) {
                throw new SingularMatrixException();
            }
            for (double[] row : jacobian) {
                row[j] /= scale[j];
            }
        }
        double[][] inverse = new QRDecomposition(new Array2DRowRealMatrix(jacobian, false), SINGULAR)
                .getSolver()
                .getInverse()
                .getData();
        double[] errors = new double[p];
        double spread = n > p ? Math.sqrt(squares / (n - p)) : Double.NaN;
        for (int j = 0; j < p; j++) {
            double sum = 0;
            for (int i = 0; i < n; i++) {
                inverse[j][i] /= scale[j];
                sum += inverse[j][i] * inverse[j][i];
            }
            errors[j] = spread * Math.sqrt(sum);
        }
        return new CurveFit(parameters, residuals, squares, errors, inverse);
    }
}

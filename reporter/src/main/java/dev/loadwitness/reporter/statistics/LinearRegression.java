// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import java.util.Arrays;
import org.apache.commons.math3.linear.SingularMatrixException;
import org.apache.commons.math3.stat.regression.OLSMultipleLinearRegression;

/**
 * Least squares with an intercept, by the QR decomposition of Commons Math. Predictors are centred and scaled first: the sets
 * of NIST that are made to be hard then keep more of their digits. The covariance assumes independent errors of equal
 * spread, which raw sensor samples have not: pass block means.
 *
 * @param coefficients intercept first, then one for each predictor
 * @param covariance of the coefficients, in their order
 * @param residualDeviation with {@code degreesOfFreedom} as the divisor
 * @param degreesOfFreedom observations less coefficients
 */
@SuppressWarnings("ArrayRecordComponent") // a matrix; nobody compares two regressions
public record LinearRegression(
        double[] coefficients, double[][] covariance, double residualDeviation, int degreesOfFreedom) {
    /**
     * Fits {@code y} to the predictors, one row an observation.
     *
     * @throws IllegalArgumentException when there are no more observations than coefficients, or when the predictors do not
     *     determine the coefficients
     */
    public static LinearRegression of(double[] y, double[][] predictors) {
        int n = y.length;
        int p = n == 0 ? 0 : predictors[0].length;
        if (n <= p + 1 || predictors.length != n) {
            throw new IllegalArgumentException(
                    n + " observations do not determine " + (p + 1) + " coefficients and their spread");
        }
        double[] centre = new double[p];
        double[] scale = new double[p];
        for (int j = 0; j < p; j++) {
            Moments moments = new Moments();
            for (double[] row : predictors) {
                moments.add(row[j]);
            }
            Moments.Summary summary = moments.summary();
            centre[j] = summary.mean();
            scale[j] = summary.standardDeviation();
            if (!(scale[j] > 0)) {
                throw new IllegalArgumentException("predictor " + (j + 1) + " never changes");
            }
        }
        double[][] x = new double[n][p];
        for (int i = 0; i < n; i++) {
            Numbers.requireFinite(y[i], "observation");
            for (int j = 0; j < p; j++) {
                x[i][j] = (predictors[i][j] - centre[j]) / scale[j];
            }
        }
        OLSMultipleLinearRegression ols = new OLSMultipleLinearRegression(1e-12);
        ols.newSampleData(y, x);
        try {
            return uncentred(
                    ols.estimateRegressionParameters(),
                    ols.estimateRegressionParametersVariance(),
                    ols.estimateErrorVariance(),
                    centre,
                    scale,
                    n - p - 1);
        } catch (SingularMatrixException e) {
            throw new IllegalArgumentException("the predictors depend on each other", e);
        }
    }

    /** Back to the units given: b = A·b', covariance s²·A·V·Aᵀ. */
    private static LinearRegression uncentred(
            double[] b, double[][] v, double errorVariance, double[] centre, double[] scale, int degreesOfFreedom) {
        int k = b.length;
        double[][] a = new double[k][k];
        a[0][0] = 1;
        for (int j = 1; j < k; j++) {
            a[0][j] = -centre[j - 1] / scale[j - 1];
            a[j][j] = 1 / scale[j - 1];
        }
        double[] coefficients = new double[k];
        double[][] covariance = new double[k][k];
        for (int i = 0; i < k; i++) {
            for (int j = 0; j < k; j++) {
                coefficients[i] += a[i][j] * b[j];
                for (int m = 0; m < k; m++) {
                    for (int l = 0; l < k; l++) {
                        covariance[i][j] += a[i][m] * v[m][l] * a[j][l] * errorVariance;
                    }
                }
            }
        }
        return new LinearRegression(coefficients, covariance, Math.sqrt(errorVariance), degreesOfFreedom);
    }

    /** Standard error of a coefficient; 0 is the intercept's. */
    public double standardError(int coefficient) {
        return Math.sqrt(covariance[coefficient][coefficient]);
    }

    @Override
    public String toString() {
        return "LinearRegression" + Arrays.toString(coefficients);
    }
}

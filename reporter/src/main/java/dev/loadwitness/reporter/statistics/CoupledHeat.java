// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import java.util.Optional;
import org.apache.commons.math3.linear.Array2DRowRealMatrix;
import org.apache.commons.math3.linear.RealMatrix;
import org.apache.commons.math3.linear.SingularValueDecomposition;

/**
 * How much each of several parts that share a heatsink warms by its own power and by that of the others: rise of part i =
 * Σ Rᵢⱼ·Pⱼ, over states in which everything had come to rest. Weighted least squares, for each part by itself.
 *
 * @param resistance K/W; row: the part that warms, column: the part whose power it is
 * @param standardErrors of each, the error of the ambient temperature included, which is the same in every state
 * @param condition of the powers, each column scaled to length 1: 1 where the states load the parts one by one; the larger, the
 *     less they tell them apart
 */
@SuppressWarnings("ArrayRecordComponent") // a small matrix, made to be printed
public record CoupledHeat(double[][] resistance, double[][] standardErrors, double condition) {
    /**
     * The resistances.
     *
     * @param watts by state and part
     * @param rises above ambient in kelvin, by state and part
     * @param errors standard uncertainty of each rise, without that of the ambient temperature; above zero
     * @param ambientError standard uncertainty of the ambient temperature
     * @return empty with fewer states than parts, or where the powers are in proportion
     */
    public static Optional<CoupledHeat> of(double[][] watts, double[][] rises, double[][] errors, double ambientError) {
        Numbers.requireNotNegative(ambientError, "uncertainty of the ambient temperature");
        int states = watts.length;
        if (states == 0 || states < watts[0].length) {
            return Optional.empty();
        }
        int parts = watts[0].length;
        double condition = condition(watts);
        if (!(condition < 1e9)) {
            return Optional.empty();
        }
        double[][] resistance = new double[parts][parts];
        double[][] standardErrors = new double[parts][parts];
        for (int i = 0; i < parts; i++) {
            double[][] weighted = new double[states][parts];
            double[] weight = new double[states];
            for (int s = 0; s < states; s++) {
                weight[s] = 1 / Numbers.requirePositive(errors[s][i], "uncertainty of a rise");
                for (int j = 0; j < parts; j++) {
                    weighted[s][j] = watts[s][j] * weight[s];
                }
            }
            // (JᵀJ)⁻¹Jᵀ: each column tells what one state's rise, in units of its uncertainty, does to the resistances.
            RealMatrix inverse = new SingularValueDecomposition(new Array2DRowRealMatrix(weighted, false))
                    .getSolver()
                    .getInverse();
            double[] scatter = new double[parts];
            for (int j = 0; j < parts; j++) {
                double ofAmbient = 0;
                for (int s = 0; s < states; s++) {
                    double influence = inverse.getEntry(j, s);
                    resistance[i][j] += influence * rises[s][i] * weight[s];
                    scatter[j] += influence * influence;
                    ofAmbient += influence * weight[s] * ambientError;
                }
                standardErrors[i][j] = Math.sqrt(scatter[j] + ofAmbient * ofAmbient);
            }
        }
        return Optional.of(new CoupledHeat(resistance, standardErrors, condition));
    }

    private static double condition(double[][] watts) {
        RealMatrix scaled = new Array2DRowRealMatrix(watts);
        for (int j = 0; j < scaled.getColumnDimension(); j++) {
            double length = scaled.getColumnVector(j).getNorm();
            if (length == 0) {
                return Double.POSITIVE_INFINITY;
            }
            scaled.setColumnVector(j, scaled.getColumnVector(j).mapDivide(length));
        }
        return new SingularValueDecomposition(scaled).getConditionNumber();
    }
}

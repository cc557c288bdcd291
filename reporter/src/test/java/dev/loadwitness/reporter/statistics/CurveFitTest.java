// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static org.assertj.core.api.Assertions.assertThat;

import java.util.Arrays;
import java.util.function.DoubleUnaryOperator;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.EnumSource;

/**
 * Nonlinear sets of NIST's Statistical Reference Datasets whose model is an exponential approach. Misra1a and BoxBOD: data and
 * certified values as in the NIST files, see {@code docs/computation.md}. MGH17 (Osborne 1972): remembered, and compared with
 * three public copies of NIST's page.
 */
class CurveFitTest {
    /** b1·(1 − e^(−b2·x)): the approach of a body that starts at the temperature of the room. */
    private static final CurveFit.Curve FROM_ZERO = new CurveFit.Curve() {
        @Override
        public double at(double x, double[] b) {
            return b[0] * (1 - StrictMath.exp(-b[1] * x));
        }

        @Override
        public void derivatives(double x, double[] b, double[] into) {
            double left = StrictMath.exp(-b[1] * x);
            into[0] = 1 - left;
            into[1] = b[0] * x * left;
        }
    };

    /** b1 + b2·e^(−b4·x) + b3·e^(−b5·x): two time constants. */
    private static final CurveFit.Curve TWO_TERMS = new CurveFit.Curve() {
        @Override
        public double at(double x, double[] b) {
            return b[0] + b[1] * StrictMath.exp(-b[3] * x) + b[2] * StrictMath.exp(-b[4] * x);
        }

        @Override
        public void derivatives(double x, double[] b, double[] into) {
            double one = StrictMath.exp(-b[3] * x);
            double two = StrictMath.exp(-b[4] * x);
            into[0] = 1;
            into[1] = one;
            into[2] = two;
            into[3] = -b[1] * x * one;
            into[4] = -b[2] * x * two;
        }
    };

    /** Certified values and standard deviations, eleven digits each. */
    enum Set {
        MISRA1A(
                FROM_ZERO,
                new double[] {
                    77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0
                },
                new double[] {
                    10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78
                },
                new double[][] {{500, 0.0001}, {250, 0.0005}},
                new double[] {2.3894212918E+02, 5.5015643181E-04},
                new double[] {2.7070075241E+00, 7.2668688436E-06},
                1.2455138894E-01),
        BOX_BOD(
                FROM_ZERO,
                new double[] {1, 2, 3, 5, 7, 10},
                new double[] {109, 149, 149, 191, 213, 224},
                new double[][] {{1, 1}, {100, 0.75}},
                new double[] {2.1380940889E+02, 5.4723748542E-01},
                new double[] {1.2354515176E+01, 1.0455993237E-01},
                1.1680088766E+03),
        MGH17(
                TWO_TERMS,
                tens(33),
                new double[] {
                    0.844, 0.908, 0.932, 0.936, 0.925, 0.908, 0.881, 0.850, 0.818, 0.784, 0.751, 0.718, 0.685, 0.658,
                    0.628, 0.603, 0.580, 0.558, 0.538, 0.522, 0.506, 0.490, 0.478, 0.467, 0.457, 0.448, 0.438, 0.431,
                    0.424, 0.420, 0.414, 0.411, 0.406
                },
                new double[][] {{50, 150, -100, 1, 2}, {0.5, 1.5, -1, 0.01, 0.02}},
                new double[] {3.7541005211E-01, 1.9358469127E+00, -1.4646871366E+00, 1.2867534640E-02, 2.2122699662E-02
                },
                new double[] {2.0723153551E-03, 2.2031669222E-01, 2.2175707739E-01, 4.4861358114E-04, 8.9471996575E-04},
                5.4648946975E-05);

        private final CurveFit.Curve curve;
        private final double[] x;
        private final double[] y;
        private final double[][] starts;
        private final double[] certified;
        private final double[] deviations;
        private final double squares;

        Set(
                CurveFit.Curve curve,
                double[] x,
                double[] y,
                double[][] starts,
                double[] certified,
                double[] deviations,
                double squares) {
            this.curve = curve;
            this.x = x;
            this.y = y;
            this.starts = starts;
            this.certified = certified;
            this.deviations = deviations;
            this.squares = squares;
        }

        private static double[] tens(int count) {
            double[] x = new double[count];
            Arrays.setAll(x, i -> 10 * i);
            return x;
        }
    }

    /** Correct digits: −log₁₀ of the relative error. */
    private static double digits(double found, double certified) {
        return -StrictMath.log10(Math.abs(found - certified) / Math.abs(certified));
    }

    @ParameterizedTest
    @EnumSource(Set.class)
    void nearStartReachesNineCertifiedDigits(Set set) {
        assertNineDigits(set, set.starts[1]);
    }

    @ParameterizedTest
    @EnumSource(Set.class)
    void farStartReachesNineCertifiedDigits(Set set) {
        assertNineDigits(set, set.starts[0]);
    }

    private static void assertNineDigits(Set set, double[] start) {
        CurveFit fit = CurveFit.of(set.curve, set.x, set.y, 5000, start).orElseThrow();
        for (int j = 0; j < start.length; j++) {
            assertThat(digits(fit.parameters()[j], set.certified[j]))
                    .as("b%d", j + 1)
                    .isGreaterThan(9);
            assertThat(digits(fit.standardErrors()[j], set.deviations[j]))
                    .as("sd of b%d", j + 1)
                    .isGreaterThan(9);
        }
        assertThat(digits(fit.squares(), set.squares)).isGreaterThan(9);
    }

    @Test
    void startingValuesOfOurOwnReachTheCertifiedEndOfTwoTerms() {
        Set set = Set.MGH17;
        CurveFit fit = ExponentialApproach.SECOND_ORDER.fit(set.x, set.y).orElseThrow();
        assertThat(digits(fit.parameters()[0], set.certified[0])).isGreaterThan(9);
        assertThat(digits(fit.squares(), set.squares)).isGreaterThan(9);
    }

    @Test
    void ownCurvesKnowTheirDerivatives() {
        double[] p = {70, 20, StrictMath.log(30), 8, StrictMath.log(400)};
        double[] derivatives = new double[5];
        ExponentialApproach.SECOND_ORDER.derivatives(50, p, derivatives);
        for (int j = 0; j < p.length; j++) {
            int parameter = j;
            DoubleUnaryOperator at = shift -> {
                double[] moved = p.clone();
                moved[parameter] += shift;
                return ExponentialApproach.SECOND_ORDER.at(50, moved);
            };
            double numeric = (at.applyAsDouble(1e-5) - at.applyAsDouble(-1e-5)) / 2e-5;
            assertThat(derivatives[j]).isCloseTo(numeric, org.assertj.core.api.Assertions.within(1e-7));
        }
    }

    @Test
    void pointsThatDoNotDetermineAParameterGiveNoFit() {
        double[] x = {0, 1, 2, 3};
        assertThat(CurveFit.of(FROM_ZERO, x, new double[4], 100, 0, 1)).isEmpty();
    }
}

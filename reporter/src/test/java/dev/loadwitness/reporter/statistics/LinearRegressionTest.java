// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatIllegalArgumentException;

import org.assertj.core.data.Percentage;
import org.junit.jupiter.api.Test;

/** NIST StRD linear sets; data and certified values as general-purpose projects ship them. Digits reached are the tolerances. */
class LinearRegressionTest {
    /** (x, y), as the notes on check values list them. */
    static final double[][] NORRIS = {
        {0.2, 0.1}, {337.4, 338.8}, {118.2, 118.1}, {884.6, 888.0}, {10.1, 9.2}, {226.5, 228.1}, {666.3, 668.5},
        {996.3, 998.5}, {448.6, 449.1}, {777.0, 778.9}, {558.2, 559.2}, {0.4, 0.3}, {0.6, 0.1}, {775.5, 778.1},
        {666.9, 668.8}, {338.0, 339.3}, {447.5, 448.9}, {11.6, 10.8}, {556.0, 557.7}, {228.1, 228.3}, {995.8, 998.0},
        {887.6, 888.8}, {120.2, 119.6}, {0.3, 0.3}, {0.3, 0.6}, {556.8, 557.6}, {339.1, 339.3}, {887.2, 888.0},
        {999.0, 998.5}, {779.0, 778.9}, {11.1, 10.2}, {118.3, 117.6}, {229.2, 228.9}, {669.1, 668.4}, {448.9, 449.2},
        {0.5, 0.2}
    };

    /** Deflection of a load cell; loads are 150000, 300000 ... 3000000, twice over. */
    private static final double[] PONTIUS = {
        .11019, .21956, .32949, .43899, .54803, .65694, .76562, .87487, .98292, 1.09146, 1.20001, 1.30822, 1.41599,
        1.52399, 1.63194, 1.73947, 1.84646, 1.95392, 2.06128, 2.16844, .11052, .22018, .32939, .43886, .54798, .65739,
        .76596, .87474, .98300, 1.09150, 1.20004, 1.30818, 1.41613, 1.52408, 1.63159, 1.73965, 1.84696, 1.95445,
        2.06177, 2.16829
    };

    /** y, then the six predictors of Longley (1967). */
    private static final double[][] LONGLEY = {
        {60323, 83.0, 234289, 2356, 1590, 107608, 1947}, {61122, 88.5, 259426, 2325, 1456, 108632, 1948},
        {60171, 88.2, 258054, 3682, 1616, 109773, 1949}, {61187, 89.5, 284599, 3351, 1650, 110929, 1950},
        {63221, 96.2, 328975, 2099, 3099, 112075, 1951}, {63639, 98.1, 346999, 1932, 3594, 113270, 1952},
        {64989, 99.0, 365385, 1870, 3547, 115094, 1953}, {63761, 100.0, 363112, 3578, 3350, 116219, 1954},
        {66019, 101.2, 397469, 2904, 3048, 117388, 1955}, {67857, 104.6, 419180, 2822, 2857, 118734, 1956},
        {68169, 108.4, 442769, 2936, 2798, 120445, 1957}, {66513, 110.8, 444546, 4681, 2637, 121950, 1958},
        {68655, 112.6, 482704, 3813, 2552, 123366, 1959}, {69564, 114.2, 502601, 3931, 2514, 125368, 1960},
        {69331, 115.7, 518173, 4806, 2572, 127852, 1961}, {70551, 116.9, 554894, 4007, 2827, 130081, 1962}
    };

    static double[] column(double[][] rows, int column) {
        double[] values = new double[rows.length];
        for (int i = 0; i < rows.length; i++) {
            values[i] = rows[i][column];
        }
        return values;
    }

    private static void agrees(LinearRegression fit, double[][] certified, double deviation, double percent) {
        for (int i = 0; i < certified.length; i++) {
            assertThat(fit.coefficients()[i]).isCloseTo(certified[i][0], Percentage.withPercentage(percent));
            assertThat(fit.standardError(i)).isCloseTo(certified[i][1], Percentage.withPercentage(percent));
        }
        assertThat(fit.residualDeviation()).isCloseTo(deviation, Percentage.withPercentage(percent));
    }

    @Test
    void norris() {
        double[][] x = new double[NORRIS.length][1];
        for (int i = 0; i < x.length; i++) {
            x[i][0] = NORRIS[i][0];
        }
        agrees(
                LinearRegression.of(column(NORRIS, 1), x),
                new double[][] {{-0.262323073774029, 0.232818234301152}, {1.00211681802045, 0.429796848199937E-03}},
                0.884796396144373,
                1e-10);
    }

    @Test
    void pontiusAQuadraticWithPredictorsSevenDecadesApart() {
        double[][] x = new double[PONTIUS.length][2];
        for (int i = 0; i < x.length; i++) {
            double load = 150_000.0 * (i % 20 + 1);
            x[i] = new double[] {load, load * load};
        }
        agrees(
                LinearRegression.of(PONTIUS, x),
                new double[][] {
                    {0.673565789473684E-03, 0.107938612033077E-03},
                    {0.732059160401003E-06, 0.157817399981659E-09},
                    {-0.316081871345029E-14, 0.486652849992036E-16}
                },
                0.205177424076185E-03,
                1e-8);
    }

    @Test
    void longleyWhoseSixPredictorsNearlyDependOnEachOther() {
        double[][] x = new double[LONGLEY.length][6];
        for (int i = 0; i < x.length; i++) {
            System.arraycopy(LONGLEY[i], 1, x[i], 0, 6);
        }
        agrees(
                LinearRegression.of(column(LONGLEY, 0), x),
                new double[][] {
                    {-3482258.63459582, 890420.383607373},
                    {15.0618722713733, 84.9149257747669},
                    {-0.358191792925910E-01, 0.334910077722432E-01},
                    {-2.02022980381683, 0.488399681651699},
                    {-1.03322686717359, 0.214274163161675},
                    {-0.511041056535807E-01, 0.226073200069370},
                    {1829.15146461355, 455.478499142212}
                },
                304.854073561965,
                1e-8);
    }

    @Test
    void predictorsThatDependOnEachOtherAreRefused() {
        double[][] x = {{1, 2}, {2, 4}, {3, 6}, {4, 8}, {5, 10}};
        assertThatIllegalArgumentException().isThrownBy(() -> LinearRegression.of(new double[] {1, 2, 3, 4, 6}, x));
        assertThatIllegalArgumentException()
                .isThrownBy(() -> LinearRegression.of(new double[] {1, 2}, new double[][] {{1}, {2}}));
    }
}

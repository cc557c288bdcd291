// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.within;

import java.io.BufferedReader;
import java.io.IOException;
import java.io.InputStream;
import java.io.InputStreamReader;
import java.math.BigInteger;
import java.nio.charset.StandardCharsets;
import java.util.Arrays;
import java.util.stream.IntStream;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvFileSource;

/** Certified values of the US National Institute of Standards and Technology. */
final class NistStrdTest {
    @ParameterizedTest(name = "{0}")
    @CsvFileSource(resources = "nist-strd-univariate.csv")
    void momentsAndAutocorrelationMatchNistCertifiedValues(
            String set,
            int n,
            double mean,
            double deviation,
            double r1,
            double meanTolerance,
            double deviationTolerance,
            double r1Tolerance)
            throws IOException {
        double[] values = values(set);
        Moments m = Moments.of(values);
        assertThat(values).hasSize(n);
        assertThat(m.mean()).isCloseTo(mean, within(Math.abs(mean) * meanTolerance));
        assertThat(m.standardDeviation()).isCloseTo(deviation, within(deviation * deviationTolerance));
        assertThat(Autocorrelation.lagOne(values)).isCloseTo(r1, within(Math.abs(r1) * r1Tolerance));
    }

    @ParameterizedTest(name = "{0}")
    @CsvFileSource(resources = "nist-strd-univariate.csv")
    void momentsOfTwoHalvesMergeIntoThoseOfTheWhole(
            String set,
            int n,
            double mean,
            double deviation,
            double r1,
            double meanTolerance,
            double deviationTolerance,
            double r1Tolerance)
            throws IOException {
        double[] values = values(set);
        Moments merged = Moments.of(Arrays.copyOf(values, n / 3));
        merged.merge(Moments.of(Arrays.copyOfRange(values, n / 3, n)));
        assertThat(merged.count()).isEqualTo(n);
        assertThat(merged.mean()).isCloseTo(mean, within(Math.abs(mean) * Math.max(meanTolerance, 1e-14)));
        assertThat(merged.standardDeviation())
                .isCloseTo(deviation, within(deviation * Math.max(deviationTolerance, 1e-13)));
    }

    private static double[] values(String set) throws IOException {
        return switch (set) {
            case "NumAcc1" -> new double[] {10000001, 10000003, 10000002};
            case "NumAcc2" -> alternating(1.2, 1.1, 1.3);
            case "NumAcc3" -> alternating(1000000.2, 1000000.1, 1000000.3);
            case "NumAcc4" -> alternating(10000000.2, 10000000.1, 10000000.3);
            case "PiDigits" -> nistPiDigits();
            default -> fromFile(set);
        };
    }

    private static double[] alternating(double first, double low, double high) {
        return IntStream.range(0, 1001)
                .mapToDouble(i -> i == 0 ? first : i % 2 == 1 ? low : high)
                .toArray();
    }

    /** NIST's file has one misprint, which its certified values share: digit 957 is 3 there, where π has 8. */
    private static double[] nistPiDigits() {
        double[] digits = piDigits(5000);
        assertThat(digits[956]).isEqualTo(8);
        digits[956] = 3;
        return digits;
    }

    /** The first digits of π by Machin's formula in whole numbers. */
    private static double[] piDigits(int digits) {
        BigInteger unity = BigInteger.TEN.pow(digits + 10);
        BigInteger pi = arccot(5, unity)
                .multiply(BigInteger.valueOf(16))
                .subtract(arccot(239, unity).multiply(BigInteger.valueOf(4)));
        return pi.toString()
                .substring(0, digits)
                .chars()
                .mapToDouble(c -> c - '0')
                .toArray();
    }

    private static BigInteger arccot(int x, BigInteger unity) {
        BigInteger square = BigInteger.valueOf((long) x * x);
        BigInteger term = unity.divide(BigInteger.valueOf(x));
        BigInteger sum = term;
        for (int k = 3, sign = -1; term.signum() != 0; k += 2, sign = -sign) {
            term = term.divide(square);
            sum = sum.add(term.divide(BigInteger.valueOf((long) sign * k)));
        }
        return sum;
    }

    private static double[] fromFile(String set) throws IOException {
        InputStream data = NistStrdTest.class.getResourceAsStream("nist-strd-univariate-data.txt");
        try (BufferedReader in = new BufferedReader(new InputStreamReader(data, StandardCharsets.UTF_8))) {
            return in.lines()
                    .filter(line -> line.startsWith(set + " "))
                    .flatMap(line ->
                            Arrays.stream(line.substring(set.length() + 1).split(" ")))
                    .mapToDouble(Double::parseDouble)
                    .toArray();
        }
    }
}

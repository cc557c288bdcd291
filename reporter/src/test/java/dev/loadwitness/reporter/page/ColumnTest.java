// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import static org.assertj.core.api.Assertions.assertThat;

import java.io.ByteArrayInputStream;
import java.io.IOException;
import java.io.InputStream;
import java.util.Arrays;
import java.util.Base64;
import java.util.Random;
import java.util.zip.Inflater;
import java.util.zip.InflaterInputStream;
import org.junit.jupiter.api.Test;

final class ColumnTest {
    private static final long SEED = 20_261_125;

    @Test
    void readingsOfUpToSevenDigitsComeBackAsTheyWere() throws IOException {
        Random random = new Random(SEED);
        for (int round = 0; round < 60; round++) {
            double step = Math.pow(10, random.nextInt(9) - 4);
            double[] values = new double[1 + random.nextInt(9000)];
            for (int i = 0; i < values.length; i++) {
                values[i] = random.nextInt(12) == 0 ? Double.NaN : Math.rint(random.nextGaussian() * 1e5) * step;
            }
            double[] back = unpacked(packed(values));
            assertThat(back).as("round %d, step %s", round, step).hasSameSizeAs(values);
            for (int i = 0; i < values.length; i++) {
                if (Double.isNaN(values[i])) {
                    assertThat(back[i]).isNaN();
                } else {
                    assertThat(Math.abs(back[i] - values[i]))
                            .as("round %d, step %s, %s", round, step, values[i])
                            .isLessThanOrEqualTo(1e-9 * Math.abs(values[i]));
                }
            }
        }
    }

    @Test
    void moreDigitsAreRoundedToWhatAThirtyTwoBitNumberHolds() throws IOException {
        Random random = new Random(SEED + 1);
        double[] values = random.doubles(10_000, -3e8, 3e8).toArray();
        double[] back = unpacked(packed(values));
        for (int i = 0; i < values.length; i++) {
            // Seven digits of numbers up to 3e8 are steps of 100.
            assertThat(Math.abs(back[i] - values[i])).isLessThanOrEqualTo(50);
        }
    }

    @Test
    void nothingAndSilenceAreKeptApart() throws IOException {
        assertThat(unpacked(packed(new double[0]))).isEmpty();
        assertThat(unpacked(packed(new double[] {Double.NaN, 0, Double.NaN})))
                .containsExactly(Double.NaN, 0, Double.NaN);
    }

    @Test
    void theClockOfAMonthAtTenASecondIsExact() throws IOException {
        double[] millis = new double[50_000];
        for (int i = 0; i < millis.length; i++) {
            millis[i] = 2_592_000_000.0 - 5_000_000.0 + i * 100 + (i % 3);
        }
        Column clock = Column.ofTimes();
        for (double m : millis) {
            clock.add(m);
        }
        assertThat(Arrays.equals(unpacked(clock.finish()), millis)).isTrue();
    }

    @Test
    void anHourOfASteadySensorTakesLittleRoom() {
        double[] values = new double[3600];
        Random random = new Random(SEED + 2);
        for (int i = 0; i < values.length; i++) {
            values[i] = 72 + (random.nextInt(10) == 0 ? 1 : 0);
        }
        assertThat(packed(values)).hasSizeLessThan(1200);
    }

    private static String packed(double[] values) {
        Column column = Column.ofReadings();
        for (double v : values) {
            column.add(v);
        }
        return column.finish();
    }

    /** Written from the description in {@link Column}, apart from the page's script, which does the same. */
    private static double[] unpacked(String base64) throws IOException {
        byte[] packed = Base64.getDecoder().decode(base64);
        double[] values = new double[1 << 17];
        int n = 0;
        try (InputStream in = new InflaterInputStream(new ByteArrayInputStream(packed), new Inflater(true))) {
            for (int exponent = in.read(); exponent >= 0; exponent = in.read()) {
                long count = varint(in);
                long sum = 0;
                for (long k = 0; k < count; k++) {
                    long word = varint(in);
                    if (word == 0) {
                        values[n++] = Double.NaN;
                    } else {
                        long zigzag = word - 1;
                        sum += zigzag % 2 == 0 ? zigzag / 2 : -(zigzag + 1) / 2;
                        byte e = (byte) exponent;
                        values[n++] = e < 0 ? sum / Math.pow(10, -e) : sum * Math.pow(10, e);
                    }
                }
            }
        }
        return Arrays.copyOf(values, n);
    }

    private static long varint(InputStream in) throws IOException {
        long value = 0;
        for (int shift = 0; ; shift += 7) {
            int b = in.read();
            value |= (long) (b & 0x7F) << shift;
            if (b < 128) {
                return value;
            }
        }
    }
}

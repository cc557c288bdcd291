// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.line;

import static java.nio.charset.StandardCharsets.ISO_8859_1;
import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.Sample;
import dev.loadwitness.runlog.file.read.Collector;
import dev.loadwitness.runlog.file.read.Example;
import dev.loadwitness.runlog.file.read.Forge;
import java.util.Arrays;
import java.util.Random;
import org.junit.jupiter.api.Test;

/** The fast path may decline a line, but never read one otherwise than the slow path does. */
class SampleLineTest {
    private final SampleLine fast = new SampleLine();
    private final RecordDecoder slow = new RecordDecoder();

    @Test
    void readsWhatTheWriterWritesAndAsTheSlowPathReadsIt() throws Exception {
        long seed = Long.getLong("seed", 11);
        Random random = new Random(seed);
        int declined = 0;
        for (int i = 0; i < 20_000; i++) {
            double[] values = new double[random.nextInt(6)];
            for (int c = 0; c < values.length; c++) {
                values[c] = random.nextInt(3) == 0 ? Double.longBitsToDouble(random.nextLong()) : Example.value(random);
            }
            Sample sample = Example.sample(random.nextInt(3), random.nextInt(1_000_000) / 1000.0, values);
            byte[] line = line("{\"n\":" + random.nextInt(1000) + text(RecordEncoder.body(sample)));
            declined += sameOrDeclined(line, "seed " + seed + " line " + i) ? 0 : 1;
            Sample read = (Sample) slow.decode(line, 0, line.length).record();
            for (int c = 0; c < values.length; c++) {
                double expected = Double.isFinite(values[c]) ? values[c] : Double.NaN;
                assertThat(read.values()[c]).as("seed %d line %d", seed, i).isEqualTo(Double.valueOf(expected));
            }
        }
        assertThat(declined)
                .as("lines with values of any size go the slow way; most do not")
                .isLessThan(14_000);
    }

    @Test
    void neverReadsAMangledLineOtherwiseThanTheSlowPath() throws Exception {
        long seed = Long.getLong("seed", 12);
        Random random = new Random(seed);
        String alphabet = "0123456789-+.eE,[]{}nul\"\\ :tTZ\u00e9\0";
        int read = 0;
        for (int i = 0; i < 200_000; i++) {
            Sample sample = Example.sample(0, random.nextInt(1000), Example.value(random), random.nextInt(100));
            StringBuilder content = new StringBuilder("{\"n\":" + i + text(RecordEncoder.body(sample)));
            for (int changes = 1 + random.nextInt(2); changes > 0; changes--) {
                int at = random.nextInt(content.length());
                char c = alphabet.charAt(random.nextInt(alphabet.length()));
                switch (random.nextInt(3)) {
                    case 0 -> content.setCharAt(at, c);
                    case 1 -> content.insert(at, c);
                    default -> content.deleteCharAt(at);
                }
            }
            read += sameOrDeclined(line(content.toString()), "seed " + seed + " line " + i + ": " + content) ? 1 : 0;
        }
        assertThat(read).as("lines that were still samples").isGreaterThan(5000);
    }

    private boolean sameOrDeclined(byte[] line, String where) {
        Sample sample = fast.parse(line, 0, line.length);
        if (sample == null) {
            return false;
        }
        RecordDecoder.Line expected;
        try {
            expected = slow.decode(line, 0, line.length);
        } catch (Fault e) {
            throw new AssertionError(where + ": the slow path finds " + e.kind() + " " + e.getMessage(), e);
        }
        assertThat(fast.n()).as(where).isEqualTo(expected.n());
        assertThat(Collector.comparable(sample)).as(where).isEqualTo(Collector.comparable(expected.record()));
        return true;
    }

    private static String text(byte[] body) {
        return new String(body, ISO_8859_1);
    }

    private static byte[] line(String content) {
        byte[] line = Forge.chainedLine(content, Chain.start());
        return Arrays.copyOf(line, line.length - 1);
    }
}

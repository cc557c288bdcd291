// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.jobsheet.JobSheetException;
import dev.loadwitness.runlog.jobsheet.JobSheetReader;
import java.nio.charset.StandardCharsets;
import java.util.Arrays;
import java.util.Random;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.ValueSource;

/** Whatever happens to a file, the answer is what it says or a list of its faults: never another exception. */
final class MutatedFilesTest {
    private static final int ROUNDS = 1000;

    @ParameterizedTest
    @ValueSource(strings = {"quick-check.yaml", "gpu-power-repair.yaml", "integrated-only.yaml", "charge-circuit.yaml"})
    void mutatedProcedureIsReadOrItsFaultsAreListed(String name) {
        byte[] whole = Shipped.text("thresholds", name).getBytes(StandardCharsets.UTF_8);
        int refused = 0;
        for (int seed = 0; seed < ROUNDS; seed++) {
            String text = mutated(whole, seed);
            try {
                assertThat(ProcedureReader.read(name, text)).isNotNull();
            } catch (ProcedureException e) {
                refused++;
                assertThat(e.problems()).as("seed %d", seed).isNotEmpty();
                e.problems()
                        .forEach(p -> assertThat(p.line() > 0 && p.column() > 0).isTrue());
            } catch (RuntimeException e) {
                throw new AssertionError(name + " mutated with seed " + seed, e);
            }
        }
        // Some mutations fall into comments; were nearly all harmless, or none, the test would show little.
        assertThat(refused).isBetween(ROUNDS / 5, ROUNDS - 1);
    }

    @ParameterizedTest
    @ValueSource(strings = "job-sheet.yaml")
    void mutatedJobSheetIsReadOrItsFaultsAreListed(String name) {
        byte[] whole = Shipped.text("docs", "examples", name).getBytes(StandardCharsets.UTF_8);
        int refused = 0;
        for (int seed = 0; seed < ROUNDS; seed++) {
            String text = mutated(whole, seed);
            try {
                assertThat(JobSheetReader.read(name, text)).isNotNull();
            } catch (JobSheetException e) {
                refused++;
                assertThat(e.problems()).as("seed %d", seed).isNotEmpty();
            } catch (RuntimeException e) {
                throw new AssertionError(name + " mutated with seed " + seed, e);
            }
        }
        assertThat(refused).isBetween(ROUNDS / 5, ROUNDS - 1);
    }

    private static String mutated(byte[] whole, int seed) {
        Random random = new Random(seed);
        byte[] bytes = whole;
        int mutations = 1 + random.nextInt(4);
        for (int i = 0; i < mutations && bytes.length > 0; i++) {
            int at = random.nextInt(bytes.length);
            int length = 1 + random.nextInt(Math.min(40, bytes.length - at));
            bytes = switch (random.nextInt(4)) {
                case 0 -> flipped(bytes, at, random);
                case 1 -> joined(Arrays.copyOf(bytes, at), Arrays.copyOfRange(bytes, at + length, bytes.length));
                case 2 -> joined(Arrays.copyOf(bytes, at + length), Arrays.copyOfRange(bytes, at, bytes.length));
                default -> Arrays.copyOf(bytes, random.nextInt(8) == 0 ? at : bytes.length);
            };
        }
        return new String(bytes, StandardCharsets.UTF_8);
    }

    private static byte[] flipped(byte[] bytes, int at, Random random) {
        byte[] copy = bytes.clone();
        copy[at] ^= (byte) (1 << random.nextInt(8));
        return copy;
    }

    private static byte[] joined(byte[] first, byte[] second) {
        byte[] both = Arrays.copyOf(first, first.length + second.length);
        System.arraycopy(second, 0, both, first.length, second.length);
        return both;
    }
}

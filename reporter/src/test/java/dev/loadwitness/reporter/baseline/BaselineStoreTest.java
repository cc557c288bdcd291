// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.baseline;

import static dev.loadwitness.reporter.baseline.AddEntries.entry;
import static org.assertj.core.api.Assertions.assertThat;

import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.nio.file.StandardOpenOption;
import java.util.Map;
import java.util.concurrent.TimeUnit;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class BaselineStoreTest {
    private static final Map<String, Double> FIGURES = Map.of("soak: plateau, Cel", 74.25);

    @TempDir
    Path folder;

    private Path file;
    private BaselineStore store;

    @BeforeEach
    void open() {
        file = folder.resolve("bench.jsonl");
        store = new BaselineStore(file);
    }

    private void append(String text) throws IOException {
        Files.writeString(file, text, StandardOpenOption.APPEND);
    }

    @Test
    void whatIsAddedIsReadBack() throws Exception {
        assertThat(store.add(entry("r1", "m1", FIGURES)).added()).isTrue();
        assertThat(store.read().entries()).containsExactly(entry("r1", "m1", FIGURES));
        assertThat(store.read().faults()).isEmpty();
    }

    @Test
    void aRunIsAddedOnce() throws Exception {
        store.add(entry("r1", "m1", FIGURES));
        byte[] before = Files.readAllBytes(file);
        assertThat(store.add(entry("r1", "m2", Map.of())).added()).isFalse();
        assertThat(Files.readAllBytes(file)).isEqualTo(before);
    }

    @Test
    void unknownLinesAreKeptAndCountForNothing() throws Exception {
        store.add(entry("r1", "m1", FIGURES));
        append("{\"type\":\"of-a-later-version\",\"x\":1}\n");
        store.add(entry("r2", "m2", FIGURES));
        assertThat(store.read().entries()).hasSize(2);
        assertThat(store.read().faults()).isEmpty();
        assertThat(Files.readString(file)).contains("of-a-later-version");
    }

    @Test
    void brokenLinesAreNamedByNumberAndNotLost() throws Exception {
        store.add(entry("r1", "m1", FIGURES));
        append(
                "{\"type\":\"baseline-run\",\"run\":\n{\"type\":\"baseline-run\",\"simulated\":true,\"figures\":{}}\n[]\n");
        append("{\"type\":\"baseline-run\",\"simulated\":true,\"figures\":{\"a\":\"b\"}}\n");
        store.add(entry("r2", "m2", FIGURES));
        BaselineStore.Contents contents = store.read();
        assertThat(contents.entries()).extracting(BaselineEntry::runId).containsExactly("r1", "r2");
        assertThat(contents.faults())
                .hasSize(4)
                .anyMatch(f -> f.startsWith("Line 2 is broken (not JSON)"))
                .anyMatch(f -> f.startsWith("Line 3 is broken ('run' is missing)"))
                .anyMatch(f -> f.startsWith("Line 4 is no record"))
                .anyMatch(f -> f.startsWith("Line 5 is broken (figure 'a' is no number)"));
        assertThat(Files.readString(file)).contains("{\"type\":\"baseline-run\",\"run\":\n");
    }

    @Test
    void aTornLastLineIsEndedWhereverItWasCut() throws Exception {
        store.add(entry("r1", "m1", FIGURES));
        byte[] one = Files.readAllBytes(file);
        store.add(entry("r2", "m2", FIGURES));
        byte[] both = Files.readAllBytes(file);
        for (int cut = one.length + 1; cut < both.length - 1; cut++) {
            Files.write(file, java.util.Arrays.copyOf(both, cut));
            store.add(entry("r3", "m3", FIGURES));
            assertThat(store.read().entries())
                    .as("cut at %d", cut)
                    .extracting(BaselineEntry::runId)
                    .containsExactly("r1", "r3");
            assertThat(store.read().faults()).as("cut at %d", cut).hasSize(1);
        }
        // Only its line feed is missing: it is whole.
        Files.write(file, java.util.Arrays.copyOf(both, both.length - 1));
        store.add(entry("r3", "m3", FIGURES));
        assertThat(store.read().entries()).hasSize(3);
    }

    @Test
    void twoProcessesAddAtTheSameTimeAndNothingIsLost() throws Exception {
        Process[] writers = {writer("one"), writer("two")};
        for (Process p : writers) {
            boolean ended = p.waitFor(120, TimeUnit.SECONDS);
            p.destroyForcibly();
            assertThat(ended).isTrue();
            assertThat(p.exitValue()).isZero();
        }
        BaselineStore.Contents contents = store.read();
        assertThat(contents.faults()).isEmpty();
        // 30 that both have, 30 of each.
        assertThat(contents.entries()).hasSize(90);
        assertThat(Files.readAllLines(file)).hasSize(90);
    }

    private Process writer(String name) throws IOException {
        return new ProcessBuilder(
                        Path.of(System.getProperty("java.home"), "bin", "java").toString(),
                        "-cp",
                        System.getProperty("java.class.path"),
                        AddEntries.class.getName(),
                        file.toString(),
                        name,
                        "60")
                .inheritIO()
                .start();
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.read;

import static java.nio.charset.StandardCharsets.UTF_8;
import static org.assertj.core.api.Assertions.assertThat;

import com.fasterxml.jackson.databind.JsonNode;
import com.fasterxml.jackson.databind.ObjectMapper;
import com.fasterxml.jackson.databind.node.ArrayNode;
import com.fasterxml.jackson.databind.node.ObjectNode;
import dev.loadwitness.runlog.file.line.Damage;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.stream.Stream;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/**
 * docs/examples/read_run.py follows docs/run-log.md in another language: where the two readers differ, one of
 * them, or the document, is wrong.
 */
class SecondReaderTest {
    private static final Path PROJECT = Path.of("..").toAbsolutePath().normalize();
    private static final ObjectMapper JSON = new ObjectMapper();

    @TempDir
    Path folder;

    @Test
    void bothReadersSayTheSameOfEveryDamagedLog() throws Exception {
        long seed = Long.getLong("seed", 20261125);
        Map<Path, String> names = new LinkedHashMap<>();
        for (Map.Entry<String, List<byte[]>> log : Forge.damaged(seed).entrySet()) {
            Path file = Forge.write(folder.resolve("log" + names.size()), log.getValue());
            names.put(file, "seed " + seed + ": " + log.getKey());
        }
        assertThat(names.size()).isGreaterThan(1000);
        compare(names);
    }

    @Test
    void bothReadersSayTheSameAtEveryCut() throws Exception {
        byte[] log = Example.bytes(Example.lines(Example.records()));
        int header = Example.lines(Example.records()).get(0).length;
        Map<Path, String> names = new LinkedHashMap<>();
        for (int cut = 0; cut <= log.length; cut += cut < header - 3 ? 97 : 1) {
            Path file = Forge.write(folder.resolve("cut" + cut), List.of(Arrays.copyOf(log, cut)));
            names.put(file, "cut at byte " + cut);
        }
        compare(names);
    }

    @Test
    void bothReadersSayTheSameOfEverySampleRun() throws Exception {
        Map<Path, String> names = new LinkedHashMap<>();
        for (Path file : SampleRuns.all()) {
            names.put(file, file.toString());
        }
        Path own = folder.resolve("own.jsonl");
        Files.write(own, Example.bytes(Example.lines(Example.records(3, 500, 24))));
        names.put(own, "generated");
        compare(names);
    }

    private static void compare(Map<Path, String> names) throws IOException, InterruptedException {
        List<Path> files = new ArrayList<>(names.keySet());
        List<String> said = python(files);
        assertThat(said).hasSameSizeAs(files);
        List<String> differences = new ArrayList<>();
        for (int i = 0; i < files.size(); i++) {
            ObjectNode theirs = (ObjectNode) JSON.readTree(said.get(i));
            assertThat(theirs.remove("file").asText()).isEqualTo(files.get(i).toString());
            JsonNode ours = java(files.get(i));
            if (theirs.has("error") ? !ours.has("error") : !theirs.equals(ours)) {
                differences.add(names.get(files.get(i)) + "\n  python " + theirs + "\n  java   " + ours);
            }
        }
        assertThat(differences).isEmpty();
    }

    private static List<String> python(List<Path> files) throws IOException, InterruptedException {
        List<String> command = new ArrayList<>(
                List.of("python3", PROJECT.resolve("docs/examples/read_run.py").toString(), "--json"));
        files.forEach(file -> command.add(file.toString()));
        Path out = Files.createTempFile("read-run", ".txt");
        try {
            Process process = new ProcessBuilder(command)
                    .redirectErrorStream(true)
                    .redirectOutput(out.toFile())
                    .start();
            assertThat(process.waitFor()).isBetween(0, 2);
            try (Stream<String> lines = Files.lines(out, UTF_8)) {
                return lines.toList();
            }
        } finally {
            Files.delete(out);
        }
    }

    private static JsonNode java(Path file) throws IOException {
        ObjectNode node = JSON.createObjectNode();
        ReadSummary summary;
        try {
            summary = RunLogReader.read(file, new Collector());
        } catch (UnsupportedLogException e) {
            return node.put("error", e.getMessage());
        }
        ObjectNode records = node.putObject("records");
        summary.records().forEach((type, count) -> records.put(type, count.intValue()));
        ArrayNode damages = node.putArray("damages");
        for (Damage damage : summary.damages()) {
            damages.addObject()
                    .put("kind", damage.kind().word())
                    .put("part", damage.place().part())
                    .put("line", (int) damage.place().line());
        }
        node.put("damageCount", (int) summary.damageCount());
        node.put("lastChain", summary.lastChain());
        node.put("closed", summary.closed());
        node.put("unknownMust", summary.unknownMust());
        ArrayNode digests = node.putArray("sha256");
        summary.sha256().forEach(digests::add);
        node.put("bytes", (int) summary.bytes());
        ArrayNode strangers = node.putArray("strangers");
        summary.strangers().forEach(stranger -> strangers.add(stranger.file()));
        return node;
    }
}

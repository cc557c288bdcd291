// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.read;

import static java.nio.charset.StandardCharsets.UTF_8;
import static org.assertj.core.api.Assertions.assertThat;

import com.networknt.schema.Error;
import com.networknt.schema.InputFormat;
import com.networknt.schema.Schema;
import com.networknt.schema.SchemaRegistry;
import com.networknt.schema.SpecificationVersion;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.Word;
import dev.loadwitness.runlog.ending.EndCause;
import dev.loadwitness.runlog.ending.Fact;
import dev.loadwitness.runlog.ending.Found;
import dev.loadwitness.runlog.file.line.Chain;
import dev.loadwitness.runlog.file.line.Damage;
import java.io.IOException;
import java.lang.reflect.Field;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.regex.Matcher;
import java.util.regex.Pattern;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/** docs/run-log.md and docs/run-log.schema.json say what the code does. */
class RunLogDocumentTest {
    private static final Path DOCS = Path.of("..", "docs");

    @TempDir
    Path folder;

    private static String document() throws IOException {
        return Files.readString(DOCS.resolve("run-log.md"), UTF_8);
    }

    private static List<String> blocks(String language) throws IOException {
        Matcher block =
                Pattern.compile("```" + language + "\n(.*?)```", Pattern.DOTALL).matcher(document());
        List<String> blocks = new ArrayList<>();
        while (block.find()) {
            blocks.add(block.group(1));
        }
        return blocks;
    }

    private String shell(String script) throws IOException, InterruptedException {
        Process process = new ProcessBuilder("bash", "-c", script)
                .directory(folder.toFile())
                .redirectErrorStream(true)
                .start();
        String out = new String(process.getInputStream().readAllBytes(), UTF_8);
        assertThat(process.waitFor()).as(out).isZero();
        return out;
    }

    @Test
    void theWorkedExampleOfTheChainGivesWhatTheDocumentSaysAndWhatTheCodeComputes() throws Exception {
        String out = shell(blocks("sh").get(0));
        assertThat(out).isEqualTo(blocks("text").get(0));
        Chain chain = new Chain();
        byte[] hex = Chain.start();
        for (String line : out.split("\n", -1)) {
            byte[] bytes = line.getBytes(UTF_8);
            if (bytes.length > 0) {
                assertThat(chain.fits(hex, bytes, 0, bytes.length)).as(line).isTrue();
                Chain.stated(bytes, bytes.length, hex);
            }
        }
    }

    @Test
    void sha256sumFindsTheSameChainInAWholeLog() throws Exception {
        Path file = folder.resolve("run.jsonl");
        Files.write(file, Example.bytes(Example.lines(Example.records())));
        ReadSummary summary = RunLogReader.read(file, new Collector());
        assertThat(shell(blocks("sh").get(1))).isEqualTo(summary.lastChain() + "\n");
        assertThat(shell("sha256sum < run.jsonl")).isEqualTo(summary.sha256().get(0) + "  -\n");
    }

    @Test
    void everyWordOfTheVocabularyIsInTheDocument() throws Exception {
        String document = document();
        List<String> words = new ArrayList<>();
        for (Word[] family : new Word[][] {
            Role.values(),
            Cause.values(),
            EventKind.values(),
            CloseReason.values(),
            Fact.values(),
            Found.values(),
            Damage.Kind.values()
        }) {
            for (Word word : family) {
                words.add(word.word());
            }
        }
        for (LimitType type : LimitType.values()) {
            words.add(type.word());
        }
        for (Field field : Metric.class.getDeclaredFields()) {
            if (field.getType() == Metric.class) {
                Metric metric = (Metric) field.get(null);
                assertThat(document)
                        .contains("| `" + metric.name() + "` | " + metric.unit() + " | "
                                + metric.kind().word() + " |");
            }
        }
        assertThat(words).allSatisfy(word -> assertThat(document).contains("`" + word + "`"));
    }

    @Test
    void everyCauseOfAnEndIsExplained() throws Exception {
        String document = Files.readString(DOCS.resolve("interruptions.md"), UTF_8);
        assertThat(EndCause.values()).allSatisfy(cause -> assertThat(document).contains("`" + cause.word() + "`"));
    }

    @Test
    void everyLineOfEveryLogObeysTheSchema() throws Exception {
        Schema schema = SchemaRegistry.withDefaultDialect(SpecificationVersion.DRAFT_2020_12)
                .getSchema(Files.readString(DOCS.resolve("run-log.schema.json"), UTF_8), InputFormat.JSON);
        List<byte[]> logs = new ArrayList<>();
        logs.add(Example.bytes(Example.lines(Example.records())));
        logs.add(Example.bytes(Example.lines(Example.records(5, 300, 24))));
        logs.addAll(Forge.parted(Forge.part(2, 5), 5));
        for (Path file : SampleRuns.sound()) {
            logs.add(Files.readAllBytes(file));
        }
        int checked = 0;
        for (byte[] log : logs) {
            for (String line : new String(log, UTF_8).split("\n", -1)) {
                // In a sample run a torn tail may stand between records; whether it may is the reader's to say.
                byte[] bytes = line.getBytes(UTF_8);
                if (Chain.hasSuffix(bytes, 0, bytes.length)) {
                    List<Error> errors = schema.validate(line, InputFormat.JSON);
                    assertThat(errors).as("%s in %s", errors, line).isEmpty();
                    checked++;
                }
            }
        }
        assertThat(checked).isGreaterThan(300);
    }

    @Test
    void theSchemaRefusesWhatTheReaderCallsTheWrongShape() throws Exception {
        Schema schema = SchemaRegistry.withDefaultDialect(SpecificationVersion.DRAFT_2020_12)
                .getSchema(Files.readString(DOCS.resolve("run-log.schema.json"), UTF_8), InputFormat.JSON);
        String[][] changes = {
            {"\"seg\":0", "\"seg\":-1"},
            {"61.5", "\"61.5\""},
            {"\"role\":\"cpu\"", "\"role\":\"tpu\""},
            {"\"caught\":true", "\"caught\":null"},
            {"\"simulated\":true", "\"simulated\":1"},
            {"\"bootId\":\"boot-1\",", ""},
            {"\"samples\":3", "\"samples\":-3"},
            {"\"utc\":\"2026-11-25T", "\"utc\":\"2026-11-25 "},
        };
        String log = new String(Example.bytes(Example.lines(Example.records())), UTF_8);
        for (String[] change : changes) {
            String line =
                    log.lines().filter(l -> l.contains(change[0])).findFirst().orElseThrow();
            assertThat(schema.validate(line.replace(change[0], change[1]), InputFormat.JSON))
                    .as(change[1])
                    .isNotEmpty();
        }
    }

    @Test
    void aFileOfEachReleasedVersionStaysReadable() throws Exception {
        Path released = Path.of("src", "test", "resources", "run-log-1.0.jsonl");
        Collector found = new Collector();
        ReadSummary summary = RunLogReader.read(released, found);
        assertThat(found.damages).isEmpty();
        assertThat(found.records).isEqualTo(Collector.comparable(Example.records()));
        assertThat(summary.lastChain())
                .isEqualTo(new String(Files.readAllBytes(released), UTF_8)
                        .replaceAll("(?s).*\"chain\":\"([0-9a-f]{64})\"}\n", "$1"));
        // And what is written today is still the same bytes.
        assertThat(Example.bytes(Example.lines(Example.records()))).isEqualTo(Files.readAllBytes(released));
    }
}

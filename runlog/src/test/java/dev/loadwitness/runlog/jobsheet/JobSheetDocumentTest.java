// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.jobsheet;

import static java.nio.charset.StandardCharsets.UTF_8;
import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatExceptionOfType;

import com.fasterxml.jackson.databind.JsonNode;
import com.fasterxml.jackson.databind.ObjectMapper;
import com.fasterxml.jackson.dataformat.yaml.YAMLFactory;
import com.networknt.schema.InputFormat;
import com.networknt.schema.Schema;
import com.networknt.schema.SchemaRegistry;
import com.networknt.schema.SpecificationVersion;
import dev.loadwitness.runlog.Word;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.Arrays;
import java.util.List;
import java.util.Map;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.ValueSource;

/** Schema, guide, example and template say what the reader reads. */
final class JobSheetDocumentTest {
    private static final Path DOCS = Path.of("..", "docs");
    private static final String HEAD = "format: loadwitness-job-sheet/1\nticket: FBR-2026-0142\n";

    @Test
    void theExampleObeysTheSchema() throws IOException {
        assertThat(schema().validate(json(Files.readString(DOCS.resolve("examples/job-sheet.yaml"))), InputFormat.JSON))
                .isEmpty();
    }

    @Test
    void schemaAndReaderKnowTheSameKeys() throws IOException {
        JsonNode root = new ObjectMapper()
                .readTree(DOCS.resolve("job-sheet.schema.json").toFile());
        for (Map.Entry<String, List<String>> entry : JobSheetReader.KEYS.entrySet()) {
            assertThat(properties(root, entry.getKey()).fieldNames())
                    .toIterable()
                    .as(entry.getKey())
                    .containsExactlyElementsOf(entry.getValue());
        }
        assertThat(root.at("/properties/not-applicable/properties").fieldNames())
                .toIterable()
                .containsExactlyInAnyOrderElementsOf(
                        Arrays.stream(Criterion.values()).map(Word::word).toList());
        // And no mapping in the schema that the reader's table lacks.
        assertThat(root.findValues("additionalProperties")).hasSize(JobSheetReader.KEYS.size() + 1);
    }

    private static JsonNode properties(JsonNode root, String key) {
        if (key.isEmpty()) {
            return root.get("properties");
        }
        JsonNode at = key.equals("known-good")
                ? root.at("/properties/rails/items/properties/known-good")
                : root.get("properties").get(key);
        return (at.has("items") ? at.get("items") : at).get("properties");
    }

    @ParameterizedTest
    @ValueSource(
            strings = {
                "tecnician: x",
                "rated-graphics-power: 150",
                "rated-graphics-power: -150 W",
                "received: 18.11.2026",
                "rails: [{state: idle}]",
                "rails: [{name: a, kind: fixd}]",
                "rails: [{name: a, tolerance: 0.05}]",
                "adapter: {whose: shop}",
                "hand-checks: [{name: a, done: ok}]",
                "photos: [{file: ../a.jpg}]",
                "photos: [{file: a.jpg, sha256: 12}]",
                "not-applicable: {trottle: x}",
                "not-applicable: {throttle: }",
                "work-done: new paste"
            })
    void theSchemaRefusesWhatTheReaderRefuses(String line) throws IOException {
        assertThat(schema().validate(json(HEAD + line), InputFormat.JSON)).isNotEmpty();
        assertThatExceptionOfType(JobSheetException.class).isThrownBy(() -> JobSheetReader.read("s.yaml", HEAD + line));
    }

    @Test
    void theTemplateNamesEveryKeyAndStatesNothing() throws Exception {
        String text = JobSheetTemplate.text("FBR-2026-0142");

        JobSheet sheet = JobSheetReader.read("new.yaml", text);
        assertThat(sheet.ticket()).isEqualTo("FBR-2026-0142");
        assertThat(sheet.handChecks()).isNotEmpty().allMatch(c -> c.state() == JobSheet.HandCheck.State.OPEN);
        assertThat(new JobSheet(
                        sheet.ticket(),
                        sheet.issuer(),
                        sheet.intake(),
                        sheet.machine(),
                        sheet.repair(),
                        sheet.power(),
                        sheet.bench(),
                        sheet.rails(),
                        List.of(),
                        sheet.closing(),
                        sheet.notApplicable(),
                        ""))
                .isEqualTo(JobSheet.empty("FBR-2026-0142"));
        // With every line in use, however deep it was commented out, it is still a sheet, and has every key there is.
        String used = text.lines()
                .map(line -> line.replaceFirst("^#( *(?:- |#)?)([a-z0-9-]+:(?: #.*)?)$", "$1$2"))
                .map(line -> line.replaceFirst("^( *)#([a-z0-9-]+:(?: #.*)?)$", "$1$2"))
                .reduce("", (a, b) -> a + b + "\n");
        JsonNode tree = new ObjectMapper().readTree(json(used));
        for (Map.Entry<String, List<String>> entry : JobSheetReader.KEYS.entrySet()) {
            JsonNode at = entry.getKey().isEmpty()
                    ? tree
                    : entry.getKey().equals("known-good")
                            ? tree.get("rails").get(0).get("known-good")
                            : tree.get(entry.getKey());
            assertThat((at.isArray() ? at.get(0) : at).fieldNames())
                    .toIterable()
                    .as(entry.getKey())
                    .containsExactlyInAnyOrderElementsOf(entry.getValue());
        }
        // Named once each: a name that stands in an empty list item is asked for.
        assertThatExceptionOfType(JobSheetException.class)
                .isThrownBy(() -> JobSheetReader.read("new.yaml", used))
                .satisfies(e -> assertThat(e.problems()).allMatch(p -> p.text().contains("has no value")));
    }

    @Test
    void aTemplateWithoutATicketAsksForIt() {
        assertThatExceptionOfType(JobSheetException.class)
                .isThrownBy(() -> JobSheetReader.read("new.yaml", JobSheetTemplate.text("")))
                .withMessageContaining("'ticket' has no value");
    }

    @Test
    void aTicketOfAnyCharactersIsOneTicket() throws JobSheetException {
        String odd = "O'Neil: #7 $1 \\ [x]";

        assertThat(JobSheetReader.read("new.yaml", JobSheetTemplate.text(odd)).ticket())
                .isEqualTo(odd);
    }

    @Test
    void theGuideExplainsEveryKey() throws IOException {
        String guide = Files.readString(DOCS.resolve("job-sheet.md"));

        JobSheetReader.KEYS
                .values()
                .forEach(keys ->
                        assertThat(keys).allSatisfy(key -> assertThat(guide).contains("`" + key + "`")));
    }

    private static Schema schema() throws IOException {
        return SchemaRegistry.withDefaultDialect(SpecificationVersion.DRAFT_2020_12)
                .getSchema(Files.readString(DOCS.resolve("job-sheet.schema.json"), UTF_8), InputFormat.JSON);
    }

    private static String json(String yaml) throws IOException {
        return new ObjectMapper().writeValueAsString(new ObjectMapper(new YAMLFactory()).readTree(yaml));
    }
}

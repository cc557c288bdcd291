// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import static org.assertj.core.api.Assertions.assertThat;

import com.fasterxml.jackson.databind.JsonNode;
import com.fasterxml.jackson.databind.ObjectMapper;
import com.networknt.schema.InputFormat;
import com.networknt.schema.Schema;
import com.networknt.schema.SchemaRegistry;
import com.networknt.schema.SpecificationVersion;
import dev.loadwitness.reporter.verdict.Verdict;
import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.MethodSource;

final class VerdictJsonTest {
    @ParameterizedTest
    @MethodSource("dev.loadwitness.reporter.text.VerdictTextTest#all")
    void everyVerdictIsAsThePublishedSchemaSays(Verdict verdict) throws IOException {
        String json = new String(VerdictJson.write(verdict), StandardCharsets.UTF_8);

        assertThat(schema().validate(json, InputFormat.JSON)).isEmpty();
    }

    @Test
    void theSchemaRefusesAnUnknownOutcomeAndAMissingMember() throws IOException {
        String json = new String(VerdictJson.write(VerdictExamples.pass()), StandardCharsets.UTF_8);

        assertThat(schema().validate(json.replaceFirst("\"pass\"", "\"passed\""), InputFormat.JSON))
                .isNotEmpty();
        assertThat(schema().validate(json.replace("\"lastChain\"", "\"lastLink\""), InputFormat.JSON))
                .isNotEmpty();
    }

    @Test
    void membersComeInTheirDocumentedOrder() throws IOException {
        JsonNode json = new ObjectMapper().readTree(VerdictJson.write(VerdictExamples.fail()));
        JsonNode documented = new ObjectMapper().readTree(schemaFile().toFile());

        assertThat(json.fieldNames())
                .toIterable()
                .containsExactlyElementsOf(() -> documented.get("properties").fieldNames());
        assertThat(json.get("findings").get(0).fieldNames())
                .toIterable()
                .containsExactlyElementsOf(() ->
                        documented.at("/properties/findings/items/properties").fieldNames());
        assertThat(json.at("/findings/0/measured").asText()).isEqualTo("21 min 48 s");
        assertThat(json.at("/findings/0/evidence/0/place").asText()).isEqualTo("line 1309");
        assertThat(json.at("/findings/2/tables/0/rows/0/1").asText()).isEqualTo("not excluded");
        assertThat(json.at("/findings/2/tables/1/columns/3").asText()).isEqualTo("Temperature");
        assertThat(json.at("/attempts/1/summary").asText()).isEqualTo("41 min qualified, then shut off");
    }

    @Test
    void aWithheldSerialNumberIsNotWritten() {
        Verdict withheld = VerdictExamples.withheld("serial");

        assertThat(new String(VerdictJson.write(VerdictExamples.pass()), StandardCharsets.UTF_8))
                .contains("AWK17-004711");
        assertThat(new String(VerdictJson.write(withheld), StandardCharsets.UTF_8))
                .doesNotContain("AWK17-004711");
    }

    private static Schema schema() throws IOException {
        return SchemaRegistry.withDefaultDialect(SpecificationVersion.DRAFT_2020_12)
                .getSchema(Files.readString(schemaFile()), InputFormat.JSON);
    }

    private static Path schemaFile() {
        return Path.of("..", "docs", "verdict.schema.json");
    }
}

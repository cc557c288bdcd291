// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import com.fasterxml.jackson.core.JsonProcessingException;
import com.fasterxml.jackson.databind.JsonNode;
import com.fasterxml.jackson.databind.ObjectMapper;
import com.fasterxml.jackson.databind.node.ObjectNode;
import dev.loadwitness.runlog.Shown;
import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.time.DateTimeException;
import java.time.Instant;

/**
 * What makes one report of a verdict: number, date and layout. It lies inside the report as {@code report.json}, so that
 * the same pages can be made again and compared. Texts are empty where there is nothing to say.
 *
 * @param program version and build that printed it
 * @param paper {@code a4} or {@code letter}
 * @param locale language tag
 * @param replaces number of the report that this one corrects
 * @param reason of the correction
 * @param signer name in the certificate of the key that signs
 * @param fingerprint of that certificate
 */
public record ReportJson(
        String number,
        Instant issuedAt,
        String program,
        String paper,
        String locale,
        String replaces,
        String reason,
        String signer,
        String fingerprint) {
    private static final String FORMAT = "loadwitness-report/1";
    private static final ObjectMapper JSON = new ObjectMapper();

    /** UTF-8, the same bytes for the same report. */
    public byte[] write() {
        ObjectNode node = JSON.createObjectNode();
        node.put("format", FORMAT)
                .put("number", number)
                .put("issuedAt", issuedAt.toString())
                .put("program", program)
                .put("paper", paper)
                .put("locale", locale)
                .put("replaces", replaces)
                .put("reason", reason)
                .put("signer", signer)
                .put("fingerprint", fingerprint);
        try {
            return Shown.json(JSON.writeValueAsString(node) + "\n").getBytes(StandardCharsets.UTF_8);
        } catch (JsonProcessingException e) {
            throw new IllegalStateException("a tree of texts can be written", e);
        }
    }

    /**
     * Reads what {@link #write} made.
     *
     * @throws IOException if these bytes are something else
     */
    public static ReportJson read(byte[] json) throws IOException {
        JsonNode node = JSON.readTree(json);
        if (node == null || !node.path("format").asText().equals(FORMAT)) {
            throw new IOException("its facts about itself are of no format that this version knows");
        }
        try {
            return new ReportJson(
                    text(node, "number"),
                    Instant.parse(text(node, "issuedAt")),
                    text(node, "program"),
                    text(node, "paper"),
                    text(node, "locale"),
                    text(node, "replaces"),
                    text(node, "reason"),
                    text(node, "signer"),
                    text(node, "fingerprint"));
        } catch (DateTimeException e) {
            throw new IOException("its date of issue cannot be read", e);
        }
    }

    private static String text(JsonNode node, String field) throws IOException {
        if (!node.path(field).isTextual()) {
            throw new IOException("its facts about itself lack '" + field + "'");
        }
        return node.path(field).asText();
    }
}

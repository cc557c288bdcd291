// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import static java.nio.charset.StandardCharsets.UTF_8;
import static org.assertj.core.api.Assertions.assertThat;

import com.fasterxml.jackson.databind.JsonNode;
import com.fasterxml.jackson.databind.ObjectMapper;
import com.fasterxml.jackson.databind.node.ArrayNode;
import com.fasterxml.jackson.databind.node.ObjectNode;
import com.fasterxml.jackson.databind.node.TextNode;
import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.runlog.jobsheet.JobSheetException;
import dev.loadwitness.runlog.jobsheet.JobSheetReader;
import java.io.ByteArrayOutputStream;
import java.io.IOException;
import java.io.PrintStream;
import java.nio.file.Files;
import java.nio.file.Path;
import java.security.MessageDigest;
import java.util.ArrayList;
import java.util.HexFormat;
import java.util.List;
import java.util.Map;
import java.util.TreeSet;
import java.util.regex.Matcher;
import java.util.regex.Pattern;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.ValueSource;

/**
 * Whoever writes a log or a sheet puts markup, terminal commands and characters that turn others round into every text
 * that the reader takes. Which those are is found out by trying, so that a new member is tried as well.
 */
final class HostileTextsTest {
    private static final ObjectMapper JSON = new ObjectMapper();
    private static final String MARKUP =
            "</script><script>alert(1)</script><img src=x onerror=alert(1)><!-- ]]> \" ' & \\ ";
    private static final String TURNED = "\u202Egnp.exe\u2066\u2067\u2028";
    private static final String TERMINAL = "\u001B[31m\u009B31m\u0007\r";
    /** From the most hostile on: some texts are refused with control characters, and taken without. */
    private static final List<String> HOSTILE = List.of(MARKUP + TURNED + TERMINAL, MARKUP + TURNED, MARKUP);

    private static final Pattern OBEYED_BY_A_TERMINAL =
            Pattern.compile("[\\p{Cc}&&[^\\n]]|[\\u061C\\u200E\\u200F\\u202A-\\u202E\\u2066-\\u2069\\u2028\\u2029]");

    private static final String MADE_UP = "made-up";

    @TempDir
    private Path folder;

    @ParameterizedTest
    @ValueSource(strings = {"real-quick-check", "rails-pass", "kernel-crash"})
    void noTextOfALogIsObeyedByATerminalOrABrowser(String sample) throws Exception {
        Path log = folder.resolve("run.jsonl");
        List<String> taken = new ArrayList<>();
        List<ObjectNode> records = new ArrayList<>();
        for (String line : Files.readAllLines(Path.of("..", "sample-runs", sample, "run.jsonl"))) {
            if (line.endsWith("}")) {
                ObjectNode record = (ObjectNode) JSON.readTree(line);
                // The line that a power cut tore is left out here, and what the next boot says of it.
                record.remove("torn");
                records.add(record);
            }
        }
        TreeSet<String> places = new TreeSet<>();
        changed(records, (place, text) -> {
            places.add(place);
            return text;
        });
        for (String place : places) {
            for (String hostile : HOSTILE) {
                List<ObjectNode> tried = changed(records, (p, text) -> p.equals(place) ? text + hostile : text);
                if (isReadWhole(log, tried)) {
                    records = tried;
                    taken.add(place);
                    break;
                }
            }
        }
        assertThat(taken)
                .as("texts that the reader takes")
                .hasSizeGreaterThan(10)
                .contains("header/ticket");
        write(log, records);

        assertNothingIsObeyed(log, List.of());
    }

    @Test
    void noTextOfASheetIsObeyedByATerminalOrABrowser() throws Exception {
        String text = Files.readString(Path.of("..", "docs", "examples", "job-sheet.yaml"));
        String[] lines = text.split("\n", -1);
        int taken = 0;
        for (int i = 0; i < lines.length; i++) {
            String before = lines[i];
            for (String hostile : HOSTILE) {
                String quoted = "'x " + hostile.replace("'", "''") + "'";
                lines[i] = before.replaceFirst(
                        "^( *(?:- )?[a-z-]+:) [^#{\\[|>].*", "$1 " + Matcher.quoteReplacement(quoted));
                if (lines[i].equals(before)) {
                    break;
                }
                if (isReadWhole(String.join("\n", lines))) {
                    taken++;
                    break;
                }
                lines[i] = before;
            }
        }
        assertThat(taken).as("texts that the reader takes").isGreaterThan(5);
        Path sheet = Files.writeString(folder.resolve("sheet.yaml"), String.join("\n", lines));
        Path log = Path.of("..", "sample-runs", "real-quick-check", "run.jsonl");

        assertNothingIsObeyed(log, List.of("--job", sheet.toString()));
    }

    private void assertNothingIsObeyed(Path log, List<String> more) throws Exception {
        Path pdf = folder.resolve("out.pdf");
        Path page = folder.resolve("out.html");
        for (List<String> command : List.of(
                List.of("judge", log.toString()),
                List.of("judge", "--all", log.toString()),
                List.of("judge", "--json", log.toString()),
                List.of("certify", "--unsigned", log.toString(), "--out", pdf.toString()),
                List.of("review", log.toString(), "--out", page.toString()))) {
            List<String> whole = new ArrayList<>(command);
            whole.addAll(more);
            assertHarmless(whole);
        }
        for (List<String> command : List.of(
                List.of("verify", log.toString()),
                List.of("verify", pdf.toString()),
                List.of("compare", log.toString(), log.toString()),
                List.of("compare", "--json", log.toString(), log.toString()))) {
            assertHarmless(command);
        }
        String rest = Files.readString(page).replaceAll("(?s)<(script|style)>.*?</(script|style)>", "");
        assertThat(rest).doesNotContain("<img", "<!-- ]]", "alert(1)</script>").contains("&lt;img src=x");
        assertThat(Pattern.compile("<script")
                        .matcher(Files.readString(page))
                        .results()
                        .count())
                .as("two scripts and the data")
                .isEqualTo(3);
        assertThat(OBEYED_BY_A_TERMINAL.matcher(rest).find()).isFalse();
    }

    private static void assertHarmless(List<String> command) {
        String said = said(command);
        assertThat(said).as("%s", command).isNotBlank().doesNotContain("defect of the reporter");
        assertThat(OBEYED_BY_A_TERMINAL
                        .matcher(said)
                        .results()
                        .map(found -> String.format(
                                "U+%04X in '%s'",
                                (int) found.group().charAt(0),
                                said.substring(Math.max(0, found.start() - 60), found.start())))
                        .limit(3))
                .as("%s", command)
                .isEmpty();
    }

    private static String said(List<String> command) {
        PrintStream out = System.out;
        PrintStream err = System.err;
        ByteArrayOutputStream said = new ByteArrayOutputStream();
        PrintStream both = new PrintStream(said, true, UTF_8);
        try {
            System.setOut(both);
            System.setErr(both);
            Main.run(command.toArray(String[]::new));
            return said.toString(UTF_8);
        } finally {
            System.setOut(out);
            System.setErr(err);
        }
    }

    private static boolean isReadWhole(Path log, List<ObjectNode> records) throws Exception {
        write(log, records);
        try {
            return !Judge.judge(Judge.Request.of(log)).damaged();
        } catch (IOException e) {
            return false;
        }
    }

    private static boolean isReadWhole(String sheet) {
        try {
            JobSheetReader.read("sheet.yaml", sheet);
            return true;
        } catch (JobSheetException e) {
            return false;
        }
    }

    /** With a chain that holds: whoever writes a log can make one. */
    private static void write(Path log, List<ObjectNode> records) throws Exception {
        StringBuilder text = new StringBuilder();
        String chain = "0".repeat(64);
        for (ObjectNode record : records) {
            ObjectNode bare = record.deepCopy();
            bare.remove("chain");
            String line = JSON.writeValueAsString(bare);
            String covered = line.substring(0, line.length() - 1);
            chain = HexFormat.of()
                    .formatHex(MessageDigest.getInstance("SHA-256").digest((chain + covered).getBytes(UTF_8)));
            text.append(covered).append(",\"chain\":\"").append(chain).append("\"}\n");
        }
        Files.writeString(log, text);
    }

    private interface Change {
        String at(String place, String text);
    }

    private static List<ObjectNode> changed(List<ObjectNode> records, Change change) {
        return records.stream()
                .map(r -> (ObjectNode) changed(r, r.path("type").asText(), change))
                .toList();
    }

    /** Every text, and in each group of facts one more whose name is a text of the writer's choice. */
    private static JsonNode changed(JsonNode node, String place, Change change) {
        if (node instanceof ObjectNode object) {
            ObjectNode copy = JSON.createObjectNode();
            for (Map.Entry<String, JsonNode> member : object.properties()) {
                String below = place + "/" + member.getKey().replaceAll("[0-9]+", "*");
                copy.set(member.getKey(), changed(member.getValue(), below, change));
            }
            if (place.endsWith("/facts")) {
                String name = change.at(place + "/(name)", MADE_UP);
                if (!name.equals(MADE_UP)) {
                    copy.put(name, "x");
                }
            }
            return copy;
        }
        if (node instanceof ArrayNode array) {
            ArrayNode copy = JSON.createArrayNode();
            array.forEach(item -> copy.add(changed(item, place + "/*", change)));
            return copy;
        }
        return node instanceof TextNode text ? TextNode.valueOf(change.at(place, text.textValue())) : node;
    }
}

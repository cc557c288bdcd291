// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import static java.nio.charset.StandardCharsets.UTF_8;

import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.security.MessageDigest;
import java.security.NoSuchAlgorithmException;
import java.util.HexFormat;
import java.util.List;

/** A log as the writer leaves it that had to go on in a further file: the same records in two files. */
final class PartedLog {
    private static final int SUFFIX = ",\"chain\":\"\"}".length() + 64;

    private PartedLog() {}

    /** Writes {@code stem.jsonl} and {@code stem.part2.jsonl} with the log's first {@code records} in the first of them. */
    static Path write(Path log, int records, Path folder, String stem) throws IOException {
        List<String> lines = Files.readAllLines(log, UTF_8);
        String first = String.join("\n", lines.subList(0, records)) + "\n";
        String good = chain(lines.get(records - 1));
        StringBuilder second = new StringBuilder();
        String run = lines.get(0).replaceAll(".*?\"run\":\"([^\"]*)\".*", "$1");
        String last = append(
                second,
                good,
                "{\"n\":" + records + ",\"type\":\"part\",\"run\":\"" + run + "\",\"part\":2,\"goodBytes\":"
                        + first.getBytes(UTF_8).length + ",\"goodChain\":\"" + good + "\"");
        for (int n = records; n < lines.size(); n++) {
            String line = lines.get(n);
            String body = line.substring(0, line.length() - SUFFIX);
            last = append(second, last, body.replaceFirst("\\{\"n\":" + n, "{\"n\":" + (n + 1)));
        }
        Files.writeString(folder.resolve(stem + ".part2.jsonl"), second);
        return Files.writeString(folder.resolve(stem + ".jsonl"), first);
    }

    private static String chain(String line) {
        return line.substring(line.length() - 66, line.length() - 2);
    }

    private static String append(StringBuilder out, String before, String body) {
        try {
            String chain = HexFormat.of()
                    .formatHex(MessageDigest.getInstance("SHA-256").digest((before + body).getBytes(UTF_8)));
            out.append(body).append(",\"chain\":\"").append(chain).append("\"}\n");
            return chain;
        } catch (NoSuchAlgorithmException e) {
            throw new IllegalStateException(e);
        }
    }
}

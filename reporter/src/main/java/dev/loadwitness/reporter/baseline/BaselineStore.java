// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.baseline;

import com.fasterxml.jackson.core.JsonProcessingException;
import com.fasterxml.jackson.databind.DeserializationFeature;
import com.fasterxml.jackson.databind.JsonNode;
import com.fasterxml.jackson.databind.ObjectMapper;
import com.fasterxml.jackson.databind.node.ObjectNode;
import dev.loadwitness.runlog.Shown;
import dev.loadwitness.runlog.disk.Folder;
import dev.loadwitness.runlog.disk.Input;
import java.io.ByteArrayOutputStream;
import java.io.IOException;
import java.nio.ByteBuffer;
import java.nio.channels.FileChannel;
import java.nio.channels.FileLock;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;

/**
 * Entries in one file, one JSON object a line, appended and never rewritten. Lines that this version does not know, and lines that
 * are broken, stay as they are. Whoever reads or writes holds a lock of the operating system on the file, so that two processes
 * can add at the same time; on a file system without locks (some network shares) they must not.
 */
public final class BaselineStore {
    private static final String TYPE = "baseline-run";
    private static final long MOST_BYTES = 64L << 20;
    private static final ObjectMapper JSON = new ObjectMapper().enable(DeserializationFeature.FAIL_ON_TRAILING_TOKENS);

    private final Path file;

    public BaselineStore(Path file) {
        this.file = file;
    }

    /**
     * What a store holds.
     *
     * @param entries each run once
     * @param faults one sentence for each line that cannot be read, with its number
     */
    public record Contents(List<BaselineEntry> entries, List<String> faults) {
        public Contents {
            entries = List.copyOf(entries);
            faults = List.copyOf(faults);
        }
    }

    /**
     * What adding did.
     *
     * @param added false if the store had the run already
     * @param contents after it
     */
    public record Added(boolean added, Contents contents) {}

    /**
     * What the store holds now.
     *
     * @throws IOException if the file is missing or cannot be read
     */
    public Contents read() throws IOException {
        try (FileChannel channel = Input.channel(file, Input.Named.BY_PERSON);
                FileLock lock = channel.lock(0, Long.MAX_VALUE, true)) {
            return lock.isValid() ? parse(bytes(channel)) : parse(new byte[0]);
        }
    }

    /**
     * Adds an entry unless its run is there, and forces it to the disk. Makes the file if there is none. A file without any
     * entry is something else, and stays as it is.
     *
     * @throws IOException if the file cannot be read or written; then at most a torn last line is left, which the next writer ends
     */
    public Added add(BaselineEntry entry) throws IOException {
        Path name = file.getFileName();
        if (name == null) {
            throw new IOException("it is a folder; give the store's file");
        }
        try (FileChannel channel = Folder.of(file).createOrUpdate(name.toString());
                FileLock lock = channel.lock()) {
            if (!lock.isValid()) {
                throw new IOException("it cannot be locked");
            }
            byte[] before = bytes(channel);
            Contents contents = parse(before);
            if (before.length > 0 && contents.entries().isEmpty()) {
                throw new IOException("it holds no run of any baseline; name the store, or a new file");
            }
            if (contents.entries().stream().anyMatch(e -> e.runId().equals(entry.runId()))) {
                return new Added(false, contents);
            }
            ByteArrayOutputStream line = new ByteArrayOutputStream();
            if (before.length > 0 && before[before.length - 1] != '\n') {
                line.write('\n'); // a torn last line stays a line of its own
            }
            line.writeBytes(Shown.json(JSON.writeValueAsString(node(entry))).getBytes(StandardCharsets.UTF_8));
            line.write('\n');
            ByteBuffer buffer = ByteBuffer.wrap(line.toByteArray());
            channel.position(before.length);
            while (buffer.hasRemaining()) {
                channel.write(buffer);
            }
            channel.force(true);
            List<BaselineEntry> entries = new ArrayList<>(contents.entries());
            entries.add(entry);
            return new Added(true, new Contents(entries, contents.faults()));
        }
    }

    private byte[] bytes(FileChannel channel) throws IOException {
        if (channel.size() > MOST_BYTES) {
            throw new IOException("it is larger than 64 MiB; that is no store of baselines");
        }
        ByteBuffer buffer = ByteBuffer.allocate((int) channel.size());
        while (buffer.hasRemaining() && channel.read(buffer, buffer.position()) >= 0) {
            // Until all of it is there.
        }
        return buffer.array();
    }

    private static Contents parse(byte[] bytes) {
        Map<String, BaselineEntry> entries = new LinkedHashMap<>();
        List<String> faults = new ArrayList<>();
        int number = 0;
        for (String line : new String(bytes, StandardCharsets.UTF_8).split("\n", -1)) {
            number++;
            if (line.isBlank()) {
                continue;
            }
            try {
                JsonNode node = JSON.readTree(line);
                if (!node.isObject() || !node.path("type").isTextual()) {
                    faults.add("Line " + number + " is no record; it is left as it is and counts for nothing.");
                } else if (node.path("type").textValue().equals(TYPE)) {
                    BaselineEntry entry = entry(node);
                    entries.putIfAbsent(entry.runId(), entry);
                }
            } catch (JsonProcessingException e) {
                faults.add("Line " + number + " is broken (not JSON); it is left as it is and counts for nothing.");
            } catch (IllegalArgumentException e) {
                faults.add("Line " + number + " is broken (" + e.getMessage()
                        + "); it is left as it is and counts for nothing.");
            }
        }
        return new Contents(List.copyOf(entries.values()), faults);
    }

    private static ObjectNode node(BaselineEntry entry) {
        ObjectNode node = JSON.createObjectNode();
        node.put("type", TYPE);
        node.put("run", entry.runId());
        node.put("begun", entry.begun());
        node.put("machine", entry.machine());
        node.put("model", entry.model());
        node.put("procedure", entry.procedure());
        node.put("method", entry.method());
        node.put("simulated", entry.simulated());
        node.put("outcome", entry.outcome());
        ObjectNode figures = node.putObject("figures");
        entry.figures().forEach(figures::put);
        return node;
    }

    private static BaselineEntry entry(JsonNode node) {
        Map<String, Double> figures = new LinkedHashMap<>();
        JsonNode given = node.path("figures");
        given.fieldNames().forEachRemaining(name -> {
            JsonNode value = given.get(name);
            if (!value.isNumber() || !Double.isFinite(value.doubleValue())) {
                throw new IllegalArgumentException("figure '" + name + "' is no number");
            }
            figures.put(name, value.doubleValue());
        });
        if (!node.path("simulated").isBoolean()) {
            throw new IllegalArgumentException("'simulated' is missing");
        }
        return new BaselineEntry(
                text(node, "run"),
                text(node, "begun"),
                text(node, "machine"),
                text(node, "model"),
                text(node, "procedure"),
                text(node, "method"),
                node.path("simulated").booleanValue(),
                text(node, "outcome"),
                figures);
    }

    private static String text(JsonNode node, String name) {
        if (!node.path(name).isTextual()) {
            throw new IllegalArgumentException("'" + name + "' is missing");
        }
        return node.path(name).textValue();
    }
}

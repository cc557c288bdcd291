// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import com.fasterxml.jackson.core.JsonFactory;
import com.fasterxml.jackson.core.JsonGenerator;
import dev.loadwitness.runlog.EarlierAttempt;
import dev.loadwitness.runlog.disk.Folder;
import dev.loadwitness.runlog.file.line.Chain;
import dev.loadwitness.runlog.file.line.Fault;
import dev.loadwitness.runlog.file.line.Format;
import dev.loadwitness.runlog.file.line.JsonTree;
import dev.loadwitness.runlog.file.line.LogPosition;
import dev.loadwitness.runlog.file.line.UtcText;
import dev.loadwitness.runlog.file.read.LineSource;
import java.io.ByteArrayOutputStream;
import java.io.IOException;
import java.nio.ByteBuffer;
import java.nio.channels.FileChannel;
import java.nio.file.Files;
import java.nio.file.LinkOption;
import java.nio.file.Path;
import java.time.Instant;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;

/**
 * A small file beside the logs that remembers how far each run had come: cutting a log at the end of a record is
 * invisible to its chain, but not to this. One JSON object a line:
 * {@code {"ticket":…,"run":…,"utc":…,"n":…,"chain":…,"end":…}}.
 */
public final class AttemptJournal {
    /** The word for a run that no close was seen of. */
    public static final String OPEN = "open";

    private static final JsonFactory JSON = new JsonFactory();

    private final Path file;

    public AttemptJournal(Path file) {
        this.file = file;
    }

    /**
     * What the journal knows of a ticket.
     *
     * @param attempts in the order in which they began, each as last remembered
     * @param warning for people, if lines of the journal could not be read
     */
    public record Memory(List<EarlierAttempt> attempts, Optional<String> warning) {
        public Memory {
            attempts = List.copyOf(attempts);
        }
    }

    /**
     * Appends a line and returns when it is on the disk.
     *
     * @param end the close reason's word, or {@link #OPEN}
     */
    public void append(String ticket, String runId, Instant utc, LogPosition position, String end) throws IOException {
        write(ticket, runId, utc, position, end, true);
    }

    /** The same, but makes no new journal: where there was one before, an empty mount point is no place for another. */
    public void goOn(String ticket, String runId, Instant utc, LogPosition position, String end) throws IOException {
        write(ticket, runId, utc, position, end, false);
    }

    private void write(String ticket, String runId, Instant utc, LogPosition position, String end, boolean mayBeMade)
            throws IOException {
        ByteArrayOutputStream line = new ByteArrayOutputStream();
        try (JsonGenerator json = JSON.createGenerator(line)) {
            json.writeStartObject();
            json.writeStringField("ticket", ticket);
            json.writeStringField("run", runId);
            json.writeStringField("utc", UtcText.text(utc));
            json.writeNumberField("n", position.records());
            json.writeStringField("chain", position.chain());
            json.writeStringField("end", end);
            json.writeEndObject();
        }
        line.write('\n');
        try (FileChannel channel = mayBeMade ? folder().createOrUpdate(name()) : folder().update(name())) {
            long size = channel.size();
            channel.position(size);
            if (size > 0 && lastByte(channel, size) != '\n') {
                // A crash tore the last line: it must not take this one with it.
                write(channel, new byte[] {'\n'});
            }
            write(channel, line.toByteArray());
            channel.force(true);
        }
    }

    private Folder folder() {
        return Folder.of(file);
    }

    private String name() {
        return file.getFileName().toString();
    }

    private static byte lastByte(FileChannel channel, long size) throws IOException {
        ByteBuffer one = ByteBuffer.allocate(1);
        return channel.read(one, size - 1) == 1 ? one.get(0) : 0;
    }

    private static void write(FileChannel channel, byte[] bytes) throws IOException {
        ByteBuffer buffer = ByteBuffer.wrap(bytes);
        while (buffer.hasRemaining()) {
            if (channel.write(buffer) == 0) {
                throw new IOException("no room left for the journal of attempts");
            }
        }
    }

    /**
     * The runs of a ticket; none if there is no journal yet. Lines that cannot be read are passed over.
     *
     * @throws IOException also if the journal could be read but not be gone on with: it is a link, or another user's
     */
    public Memory read(String ticket) throws IOException {
        if (!Files.exists(file, LinkOption.NOFOLLOW_LINKS)) {
            return new Memory(List.of(), Optional.empty());
        }
        Map<String, EarlierAttempt> byRun = new LinkedHashMap<>();
        long unreadable = 0;
        try (LineSource lines = new LineSource(folder().readOwn(name()), Long.MAX_VALUE)) {
            while (lines.next(Format.MAX_LINE, Chain.sha256())) {
                if (lines.end() == lines.start() && !lines.isTooLong()) {
                    continue;
                }
                Optional<Line> line = line(lines);
                if (line.isEmpty()) {
                    unreadable++;
                } else if (ticket.equals(line.get().ticket())) {
                    EarlierAttempt attempt = line.get().attempt();
                    byRun.put(attempt.runId(), attempt);
                }
            }
        }
        Optional<String> warning = unreadable == 0
                ? Optional.empty()
                : Optional.of(file + ": " + unreadable + " unreadable line" + (unreadable == 1 ? "" : "s")
                        + " passed over; attempts may be missing from the list");
        return new Memory(List.copyOf(byRun.values()), warning);
    }

    private record Line(String ticket, EarlierAttempt attempt) {}

    private static Optional<Line> line(LineSource lines) {
        if (lines.isTooLong()) {
            return Optional.empty();
        }
        try {
            Map<String, Object> line = JsonTree.parse(lines.bytes(), lines.start(), lines.end());
            return line.get("ticket") instanceof String ticket
                            && line.get("run") instanceof String run
                            && line.get("chain") instanceof String chain
                            && Chain.isHex(chain)
                            && line.get("end") instanceof String end
                    ? Optional.of(new Line(ticket, new EarlierAttempt(run, chain, end)))
                    : Optional.empty();
        } catch (Fault e) {
            // What is wrong with it does not matter here: the caller counts it.
            return Optional.empty();
        }
    }
}

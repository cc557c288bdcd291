// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.linux;

import dev.loadwitness.agent.evidence.LastBoot;
import dev.loadwitness.runlog.ending.Fact;
import dev.loadwitness.runlog.ending.Found;
import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.time.Instant;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import java.util.function.BiConsumer;
import java.util.regex.Matcher;
import java.util.regex.Pattern;

/**
 * pstore, where a dying kernel leaves its last messages (Documentation/ABI/testing/pstore), and the folder to which
 * systemd-pstore(8) moves them at the next start. Files are {@code dmesg-...} for a dying kernel and {@code mce-...} for a
 * fatal hardware error; consoles and other streams are there after every end and say nothing.
 */
final class CrashStore {
    /** What is there, and the heading of the record that decided. */
    private record Content(Found found, Optional<String> record) {}

    /** fs/pstore/platform.c writes the reason, a count and a part before the messages. */
    private static final Pattern HEADING = Pattern.compile("\\A(Panic|Oops|Emergency|Shutdown|Unknown)#\\d+ Part\\d+");

    /** The record's time is that of the death or, in the archive, of the next start: never much before the last sample. */
    private static final Duration SLACK = Duration.ofMinutes(1);

    private static final int HEADING_BYTES = 100;
    private static final int MOUNTS_BYTES = 256 << 10;

    private final Path root;

    CrashStore(Path root) {
        this.root = root;
    }

    void learn(LastBoot last, BiConsumer<Fact, String> facts) throws IOException {
        Content content = content(last.comparable());
        facts.accept(Fact.CRASH_STORE, content.found.word());
        content.record.ifPresent(r -> facts.accept(Fact.CRASH_RECORD, Bounded.harmless(r, 100)));
    }

    /** Who keeps the records, if they can be read. */
    String quality() throws IOException {
        String backEnd = backEnd();
        Bounded.list(root.resolve("sys/fs/pstore"));
        return "pstore, kept by " + backEnd;
    }

    /** The back end's name; an exception that says why if a dying kernel could leave nothing here. */
    private String backEnd() throws IOException {
        boolean mounted = Bounded.text(root.resolve("proc/self/mounts"), MOUNTS_BYTES)
                .lines()
                .map(l -> l.split(" ", -1))
                .anyMatch(f -> f.length > 2 && f[1].equals("/sys/fs/pstore") && f[2].equals("pstore"));
        if (!mounted) {
            throw new IOException("not mounted");
        }
        String name;
        try {
            name = Bounded.text(root.resolve("sys/module/pstore/parameters/backend"), 100);
        } catch (IOException e) {
            throw new IOException("its back end could not be read: " + Bounded.why(e), e);
        }
        if (name.isEmpty() || name.equals("(null)")) {
            throw new IOException("no back end");
        }
        return Bounded.harmless(name, 40);
    }

    /**
     * @param lastSample empty if times cannot be compared
     * @throws IOException why nothing can be said
     */
    private Content content(Optional<Instant> lastSample) throws IOException {
        List<Content> fresh = new ArrayList<>();
        boolean old = false;
        boolean undated = false;
        IOException reason = null;
        boolean there = false;
        try {
            backEnd();
            List<Path> live = Bounded.files(root.resolve("sys/fs/pstore"), 1);
            there = true;
            for (Path file : live) {
                Optional<Content> record = record(file);
                if (record.isPresent()) {
                    undated |= lastSample.isEmpty();
                    if (lastSample.isPresent() && isFresh(file, lastSample.get())) {
                        fresh.add(record.get());
                    } else {
                        old |= lastSample.isPresent();
                    }
                }
            }
        } catch (IOException e) {
            reason = e;
        }
        Path archive = root.resolve("var/lib/systemd/pstore");
        if (Files.isDirectory(archive)) {
            for (Path file : Bounded.files(archive, 4)) {
                Optional<Content> record = record(file);
                if (record.isPresent()) {
                    undated |= lastSample.isEmpty();
                    if (lastSample.isPresent() && isFresh(file, lastSample.get())) {
                        fresh.add(record.get());
                    }
                }
            }
        }
        for (Found worst : List.of(Found.PANIC, Found.HARDWARE_ERROR, Found.OOPS)) {
            for (Content content : fresh) {
                if (content.found == worst) {
                    return content;
                }
            }
        }
        if (undated) {
            return new Content(Found.UNDATED, Optional.empty());
        }
        if (!there) {
            throw reason;
        }
        return new Content(old ? Found.OLD : Found.EMPTY, Optional.empty());
    }

    private static boolean isFresh(Path file, Instant lastSample) throws IOException {
        return !Files.getLastModifiedTime(file).toInstant().isBefore(lastSample.minus(SLACK));
    }

    /** Empty if the file is no record of a death. */
    private static Optional<Content> record(Path file) throws IOException {
        String name = file.getFileName().toString();
        if (name.startsWith("mce-")) {
            return Optional.of(new Content(Found.HARDWARE_ERROR, Optional.of("hardware error")));
        }
        if (!name.startsWith("dmesg-")) {
            return Optional.empty();
        }
        String head = new String(Bounded.head(file, HEADING_BYTES), StandardCharsets.ISO_8859_1);
        Matcher heading = HEADING.matcher(head);
        if (!heading.find()) {
            // Left compressed: a record of a fault, and which one is not told.
            return Optional.of(new Content(Found.OOPS, Optional.of("kind not told")));
        }
        return switch (heading.group(1)) {
            case "Panic" -> Optional.of(new Content(Found.PANIC, Optional.of(heading.group())));
            case "Oops" -> Optional.of(new Content(Found.OOPS, Optional.of(heading.group())));
            default -> Optional.empty(); // written at an orderly end too, where a system asks for it
        };
    }
}

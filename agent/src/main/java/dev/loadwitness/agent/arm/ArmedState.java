// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.arm;

import static java.nio.file.StandardOpenOption.CREATE;
import static java.nio.file.StandardOpenOption.READ;
import static java.nio.file.StandardOpenOption.TRUNCATE_EXISTING;
import static java.nio.file.StandardOpenOption.WRITE;
import static java.util.Objects.requireNonNull;

import java.io.IOException;
import java.nio.ByteBuffer;
import java.nio.channels.FileChannel;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.nio.file.StandardCopyOption;
import java.nio.file.attribute.FileAttribute;
import java.nio.file.attribute.PosixFilePermissions;
import java.security.SecureRandom;
import java.time.DateTimeException;
import java.time.Instant;
import java.util.HexFormat;
import java.util.LinkedHashMap;
import java.util.Map;
import java.util.Optional;
import java.util.Set;

/**
 * What a start at boot is armed for. Lies in a file of lines {@code name=value} that only root may read and write.
 *
 * @param runId of the run that it goes on with, and no other
 * @param folder that holds its log, or says where that is
 * @param journal of attempts; empty for a run without a ticket
 * @param salt of {@code machine}
 * @param machine digest of the machine that it may go on on
 * @param bootsLeft how many more starts it is good for
 * @param expires after that it is good for nothing
 */
public record ArmedState(
        String runId,
        Path folder,
        Optional<Path> journal,
        String salt,
        String machine,
        int bootsLeft,
        Instant expires) {
    /** Enough for a run with some cold starts; too few for a machine that restarts all night. */
    public static final int BOOTS = 10;

    private static final String FORMAT = "loadwitness-armed/1";
    private static final int LONGEST = 64 << 10;

    public ArmedState {
        requireNonNull(runId, "runId");
        requireNonNull(folder, "folder");
        requireNonNull(journal, "journal");
        requireNonNull(salt, "salt");
        requireNonNull(machine, "machine");
        requireNonNull(expires, "expires");
    }

    /** For the machine that {@code facts} describe, with a new salt. */
    public static ArmedState of(
            String runId,
            Path folder,
            Optional<Path> journal,
            Map<String, String> facts,
            Path root,
            int boots,
            Instant expires) {
        byte[] random = new byte[16];
        new SecureRandom().nextBytes(random);
        String salt = HexFormat.of().formatHex(random);
        return new ArmedState(runId, folder, journal, salt, Machine.digest(facts, root, salt), boots, expires);
    }

    /** Whether this is the machine that it was armed on. */
    public boolean isThisMachine(Map<String, String> facts, Path root) {
        return Machine.digest(facts, root, salt).equals(machine);
    }

    /** Where it lies. */
    public static Path file(Path root) {
        return root.resolve("var/lib/loadwitness/state");
    }

    /**
     * What is armed on this machine.
     *
     * @throws IOException with a message for people, if the file is there and cannot be read or understood
     */
    public static Optional<ArmedState> read(Path root) throws IOException {
        Path file = file(root);
        if (!Files.exists(file)) {
            return Optional.empty();
        }
        String text;
        try (var in = Files.newInputStream(file)) {
            text = new String(in.readNBytes(LONGEST), StandardCharsets.UTF_8);
        } catch (IOException e) {
            throw new IOException(
                    file + " cannot be read: " + e.getMessage() + "; only root, or on Windows whoever armed, may", e);
        }
        Map<String, String> values = new LinkedHashMap<>();
        text.lines().forEach(line -> {
            int equals = line.indexOf('=');
            if (equals > 0) {
                values.put(line.substring(0, equals), line.substring(equals + 1));
            }
        });
        try {
            if (!values.getOrDefault("format", "").equals(FORMAT)) {
                throw new IOException("it is not in format " + FORMAT);
            }
            String journal = values.getOrDefault("journal", "");
            return Optional.of(new ArmedState(
                    requireNonNull(values.get("run")),
                    Path.of(requireNonNull(values.get("folder"))),
                    journal.isEmpty() ? Optional.empty() : Optional.of(Path.of(journal)),
                    requireNonNull(values.get("salt")),
                    requireNonNull(values.get("machine")),
                    Integer.parseInt(requireNonNull(values.get("boots-left"))),
                    Instant.parse(requireNonNull(values.get("expires")))));
        } catch (IOException | DateTimeException | IllegalArgumentException | NullPointerException e) {
            throw new IOException(file + " is damaged (" + e.getMessage() + "): 'disarm' removes it", e);
        }
    }

    /** One start less, on the disk when this returns. */
    public ArmedState countDown(Path root) throws IOException {
        ArmedState less = new ArmedState(runId, folder, journal, salt, machine, bootsLeft - 1, expires);
        less.write(root);
        return less;
    }

    /** Replaces the file as a whole, so that a power cut leaves the one or the other. */
    public void write(Path root) throws IOException {
        String text = "format=" + FORMAT + "\nrun=" + runId + "\nfolder=" + line(folder) + "\njournal="
                + (journal.isPresent() ? line(journal.get()) : "") + "\nsalt=" + salt + "\nmachine=" + machine
                + "\nboots-left=" + bootsLeft + "\nexpires=" + expires + "\n";
        Path file = file(root);
        Path fresh = file.resolveSibling("state.new");
        Files.deleteIfExists(fresh);
        // Windows has no such permissions (there the folder has lists of its own), and opens no folder as a file.
        boolean posix = file.getFileSystem().supportedFileAttributeViews().contains("posix");
        FileAttribute<?>[] owner = posix
                ? new FileAttribute<?>[] {
                    PosixFilePermissions.asFileAttribute(PosixFilePermissions.fromString("rw-------"))
                }
                : new FileAttribute<?>[0];
        try (FileChannel channel = FileChannel.open(fresh, Set.of(CREATE, WRITE, TRUNCATE_EXISTING), owner)) {
            ByteBuffer bytes = ByteBuffer.wrap(text.getBytes(StandardCharsets.UTF_8));
            while (bytes.hasRemaining()) {
                channel.write(bytes);
            }
            channel.force(true);
        }
        Files.move(fresh, file, StandardCopyOption.ATOMIC_MOVE);
        if (posix) {
            try (FileChannel folderOfIt = FileChannel.open(file.getParent(), READ)) {
                folderOfIt.force(true);
            }
        }
    }

    /** Nothing is armed any more; the rest of what was installed goes with {@code disarm} or when the unit ends. */
    public static void remove(Path root) throws IOException {
        Files.deleteIfExists(file(root));
    }

    private static String line(Path path) throws IOException {
        String text = path.toAbsolutePath().normalize().toString();
        if (text.chars().anyMatch(c -> c < ' ')) {
            throw new IOException("the path " + text + " has a line feed or the like in it; choose another folder");
        }
        return text;
    }
}

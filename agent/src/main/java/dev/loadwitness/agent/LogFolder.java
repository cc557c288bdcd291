// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import static java.nio.file.StandardOpenOption.CREATE_NEW;
import static java.nio.file.StandardOpenOption.READ;
import static java.nio.file.StandardOpenOption.WRITE;

import java.io.IOException;
import java.io.InputStream;
import java.nio.ByteBuffer;
import java.nio.channels.FileChannel;
import java.nio.charset.StandardCharsets;
import java.nio.file.FileAlreadyExistsException;
import java.nio.file.Files;
import java.nio.file.InvalidPathException;
import java.nio.file.LinkOption;
import java.nio.file.NoSuchFileException;
import java.nio.file.Path;
import java.nio.file.StandardCopyOption;
import java.security.MessageDigest;
import java.security.NoSuchAlgorithmException;
import java.util.ArrayDeque;
import java.util.Comparator;
import java.util.Deque;
import java.util.List;
import java.util.Optional;
import java.util.stream.Stream;

/** Where a log is written, and where it lies in the end: the same folder, or by way of one on the internal disk. */
final class LogFolder {
    static final String STEM = "run";

    /** Lies in the last folder while the log is elsewhere, says where, and tells that folder from an empty one. */
    static final String NOTE = STEM + ".elsewhere";

    private static final String NOTE_BEGINS = "The log of this run is written in ";
    private static final String COPYING = ".copying";

    private final Path out;
    private final Path folder;
    /** What was made for the log's own place, and for where it is written if that is another; the innermost first. */
    private final Deque<Path> madeOut;

    private final Deque<Path> made;
    private final Optional<String> note;

    private LogFolder(Path out, Path folder, Deque<Path> madeOut, Deque<Path> made, Optional<String> note) {
        this.out = out;
        this.folder = folder;
        this.madeOut = madeOut;
        this.made = made;
        this.note = note;
    }

    /** Makes the folders. {@code workDir} is null where the log is written in its own place. */
    static LogFolder open(Path out, Path workDir) throws Complaint {
        Deque<Path> madeOut = new ArrayDeque<>();
        makeFolder(out, "--out", madeOut);
        refuseUsed(out, STEM + ".jsonl");
        refuseUsed(out, NOTE);
        if (workDir == null) {
            return new LogFolder(out, out, madeOut, new ArrayDeque<>(), Optional.empty());
        }
        Deque<Path> made = new ArrayDeque<>();
        Path name = out.toAbsolutePath().normalize().getFileName();
        Path folder = workDir.resolve(name == null ? STEM : name.toString());
        if (Files.exists(folder)) {
            throw new Complaint(
                    Exit.CANNOT_CREATE,
                    folder + " exists already; is a killed run's log in it? Choose another --work-dir or --out");
        }
        makeFolder(folder, "--work-dir", made);
        String note = NOTE_BEGINS + folder.toAbsolutePath() + "\nand copied here when the run is over.\n";
        try {
            write(out.resolve(NOTE), note);
        } catch (IOException e) {
            removeQuietly(made);
            throw new Complaint(
                    Exit.CANNOT_CREATE, out + " cannot be written: " + e.getMessage() + "; choose another with --out");
        }
        return new LogFolder(out, folder, madeOut, made, Optional.of(note));
    }

    /**
     * Where a run that broke off goes on: the folder that holds its log, or that says in which other one it is written.
     *
     * @throws Complaint if there is no such log, because a stick is not there, say
     */
    static LogFolder reopen(Path out) throws Complaint {
        if (Files.isRegularFile(out)) {
            Path holder = out.toAbsolutePath().normalize().getParent();
            throw new Complaint(Exit.NO_INPUT, out + " is a file; name the folder that holds it: " + holder);
        }
        if (!Files.isDirectory(out)) {
            throw new Complaint(
                    Exit.NO_INPUT,
                    "there is no folder " + out.toAbsolutePath().normalize() + ". If the log lies on a stick, mount it"
                            + " there, or name the folder where it is now");
        }
        if (Files.exists(out.resolve(STEM + ".jsonl"), LinkOption.NOFOLLOW_LINKS)) {
            return new LogFolder(out, out, new ArrayDeque<>(), new ArrayDeque<>(), Optional.empty());
        }
        Path note = out.resolve(NOTE);
        if (!Files.isRegularFile(note, LinkOption.NOFOLLOW_LINKS)) {
            throw new Complaint(
                    Exit.NO_INPUT,
                    "there is no log in " + out.toAbsolutePath().normalize() + ". Is it another stick, or was the log"
                            + " moved? Name the folder that holds " + STEM + ".jsonl now");
        }
        try {
            String text = Files.readString(note, StandardCharsets.UTF_8);
            String first = text.lines().findFirst().orElse("");
            Path folder = Path.of(first.startsWith(NOTE_BEGINS) ? first.substring(NOTE_BEGINS.length()) : "");
            if (!folder.isAbsolute() || !Files.exists(folder.resolve(STEM + ".jsonl"), LinkOption.NOFOLLOW_LINKS)) {
                throw new Complaint(
                        Exit.NO_INPUT,
                        note + " says that the log is written in '" + folder + "', and there is none: it lay on another"
                                + " machine's disk, or was moved");
            }
            Deque<Path> made = new ArrayDeque<>(List.of(folder));
            return new LogFolder(out, folder, new ArrayDeque<>(), made, Optional.of(text));
        } catch (IOException | InvalidPathException e) {
            throw new Complaint(Exit.NO_INPUT, note + " cannot be read: " + e.getMessage());
        }
    }

    private static void makeFolder(Path folder, String option, Deque<Path> made) throws Complaint {
        try {
            Path missing = folder.toAbsolutePath().normalize();
            while (missing != null && !Files.exists(missing)) {
                made.addLast(missing);
                missing = missing.getParent();
            }
            Files.createDirectories(folder);
        } catch (FileAlreadyExistsException e) {
            throw new Complaint(Exit.CANNOT_CREATE, folder + " is a file; name a folder with " + option);
        } catch (IOException e) {
            throw new Complaint(
                    Exit.CANNOT_CREATE,
                    "the folder " + folder + " cannot be made: " + e.getMessage() + "; choose another with " + option);
        }
    }

    private static void refuseUsed(Path out, String name) throws Complaint {
        if (Files.exists(out.resolve(name))) {
            throw new Complaint(
                    Exit.CANNOT_CREATE,
                    out.resolve(name) + " exists already, and logs are never overwritten; choose another --out");
        }
    }

    private static void write(Path file, String text) throws IOException {
        try (FileChannel channel = FileChannel.open(file, CREATE_NEW, WRITE)) {
            ByteBuffer bytes = ByteBuffer.wrap(text.getBytes(StandardCharsets.UTF_8));
            while (bytes.hasRemaining()) {
                channel.write(bytes);
            }
            channel.force(true);
        }
    }

    /** Where the log is written. */
    Path folder() {
        return folder;
    }

    /** The first file of the log, where it is written. */
    Path writing() {
        return folder.resolve(STEM + ".jsonl");
    }

    /** The first file of the log, where it lies in the end. */
    Path log() {
        return out.resolve(STEM + ".jsonl");
    }

    /** All files of the log, where they lie in the end: only together they are the whole of it. */
    List<Path> delivered() {
        try {
            return files(out).stream().sorted().toList();
        } catch (IOException e) {
            return List.of(log()); // pulled in this very moment; the log is whole on it
        }
    }

    /** If no log came to be: takes away what was made for one. */
    void abandon() {
        if (note.isPresent()) {
            deleteQuietly(out.resolve(NOTE));
            removeQuietly(made);
        }
        removeQuietly(madeOut);
    }

    /**
     * Brings a log that was written elsewhere to its place: each file under another name, forced, read again and
     * compared, and only then given its name, the first file last. Then the original goes.
     *
     * @throws Complaint if that fails: then the original stays, and is named
     */
    void deliver() throws Complaint {
        if (note.isEmpty()) {
            return;
        }
        try {
            // Another stick, or none: an empty mount point looks like a folder.
            if (!Files.readString(out.resolve(NOTE)).equals(note.get())) {
                throw new IOException(out + " is not the folder that it was when the run began");
            }
            List<Path> files = files(folder);
            for (Path file : files) {
                copy(file, out.resolve(file.getFileName() + COPYING));
            }
            for (Path file : files) {
                Files.move(
                        out.resolve(file.getFileName() + COPYING),
                        out.resolve(file.getFileName().toString()),
                        StandardCopyOption.ATOMIC_MOVE);
            }
            forceFolder(out);
            Files.delete(out.resolve(NOTE));
            for (Path file : files) {
                Files.delete(file);
            }
        } catch (IOException e) {
            String why = e instanceof NoSuchFileException ? e.getMessage() + " is not there" : e.getMessage();
            throw new Complaint(
                    Exit.IO,
                    "the log could not be copied to " + out + ": " + why + ". It is whole in " + folder
                            + ": copy what begins with '" + STEM + ".' from there yourself");
        }
        removeQuietly(made);
    }

    /** The log's files, the first one last. */
    private static List<Path> files(Path folder) throws IOException {
        Path first = folder.resolve(STEM + ".jsonl");
        try (Stream<Path> all = Files.list(folder)) {
            return all.filter(f -> f.getFileName().toString().matches(STEM + "(\\.part[0-9]+)?\\.jsonl"))
                    .sorted(Comparator.comparing((Path f) -> f.equals(first)).thenComparing(Path::toString))
                    .toList();
        }
    }

    private static void copy(Path from, Path to) throws IOException {
        Files.copy(from, to, StandardCopyOption.REPLACE_EXISTING);
        try (FileChannel channel = FileChannel.open(to, WRITE)) {
            channel.force(true);
        }
        if (!MessageDigest.isEqual(sha256(from), sha256(to))) {
            throw new IOException(to + " came out different from " + from + ": the disk is not to be trusted");
        }
    }

    private static byte[] sha256(Path file) throws IOException {
        try (InputStream in = Files.newInputStream(file)) {
            MessageDigest digest = MessageDigest.getInstance("SHA-256");
            byte[] chunk = new byte[64 << 10];
            for (int count = in.read(chunk); count >= 0; count = in.read(chunk)) {
                digest.update(chunk, 0, count);
            }
            return digest.digest();
        } catch (NoSuchAlgorithmException e) {
            throw new AssertionError("every Java has SHA-256", e);
        }
    }

    private static void forceFolder(Path folder) {
        try (FileChannel channel = FileChannel.open(folder, READ)) {
            channel.force(true);
        } catch (IOException e) {
            // Some file systems cannot force folders; the files themselves are forced.
            return;
        }
    }

    private static void deleteQuietly(Path file) {
        try {
            Files.deleteIfExists(file);
        } catch (IOException e) {
            // It is on a disk that is gone.
            return;
        }
    }

    /** The innermost first; a folder that holds something else stays. */
    private static void removeQuietly(Deque<Path> made) {
        made.forEach(LogFolder::deleteQuietly);
    }
}

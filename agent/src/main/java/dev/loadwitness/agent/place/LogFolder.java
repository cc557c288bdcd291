// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.place;

import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import dev.loadwitness.runlog.disk.DiskException;
import dev.loadwitness.runlog.disk.Folder;
import dev.loadwitness.runlog.disk.Input;
import dev.loadwitness.runlog.disk.Input.Named;
import dev.loadwitness.runlog.disk.NewFile;
import java.io.IOException;
import java.io.InputStream;
import java.nio.file.FileAlreadyExistsException;
import java.nio.file.Files;
import java.nio.file.LinkOption;
import java.nio.file.NoSuchFileException;
import java.nio.file.Path;
import java.security.MessageDigest;
import java.util.ArrayDeque;
import java.util.Comparator;
import java.util.Deque;
import java.util.List;
import java.util.Optional;

/** Where a log is written, and where it lies in the end: the same folder, or by way of one on the internal disk. */
public final class LogFolder {
    public static final String STEM = "run";

    /** Lies in the last folder while the log is elsewhere, says where, and tells that folder from an empty one. */
    static final String NOTE = WorkNote.NAME;

    private final Path out;
    private final Path folder;
    /** What was made for the log's own place, and for where it is written if that is another; the innermost first. */
    private final Deque<Path> madeOut;

    private final Deque<Path> made;
    private final Optional<WorkNote> note;

    private LogFolder(Path out, Path folder, Deque<Path> madeOut, Deque<Path> made, Optional<WorkNote> note) {
        this.out = out;
        this.folder = folder;
        this.madeOut = madeOut;
        this.made = made;
        this.note = note;
    }

    /** Makes the folders. {@code workDir} is null where the log is written in its own place. */
    public static LogFolder open(Path out, Path workDir) throws Complaint {
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
        if (Files.exists(folder, LinkOption.NOFOLLOW_LINKS)) {
            removeQuietly(madeOut);
            throw new Complaint(
                    Sysexits.CANNOT_CREATE,
                    folder + " exists already; is a killed run's log in it? Choose another --work-dir or --out");
        }
        makeFolder(folder, "--work-dir", made);
        WorkNote note = WorkNote.fresh(folder.toAbsolutePath());
        try {
            note.write(folder, out);
        } catch (IOException e) {
            Folder.at(folder).deleteQuietly(WorkNote.MARK);
            removeQuietly(made);
            removeQuietly(madeOut);
            throw new Complaint(
                    Sysexits.CANNOT_CREATE,
                    out + " cannot be written: " + e.getMessage() + "; choose another with --out");
        }
        return new LogFolder(out, folder, madeOut, made, Optional.of(note));
    }

    /**
     * Where a run that broke off goes on: the folder that holds its log, or that says in which other one it is written.
     *
     * @throws Complaint if there is no such log, because a stick is not there, say
     */
    public static LogFolder reopen(Path out) throws Complaint {
        if (Files.isRegularFile(out)) {
            Path holder = out.toAbsolutePath().normalize().getParent();
            throw new Complaint(Sysexits.NO_INPUT, out + " is a file; name the folder that holds it: " + holder);
        }
        if (!Files.isDirectory(out)) {
            throw new Complaint(
                    Sysexits.NO_INPUT,
                    "there is no folder " + out.toAbsolutePath().normalize() + ". If the log lies on a stick, mount it"
                            + " there, or name the folder where it is now");
        }
        if (Files.exists(out.resolve(STEM + ".jsonl"), LinkOption.NOFOLLOW_LINKS)) {
            return new LogFolder(out, out, new ArrayDeque<>(), new ArrayDeque<>(), Optional.empty());
        }
        Path note = out.resolve(NOTE);
        if (!Files.isRegularFile(note, LinkOption.NOFOLLOW_LINKS)) {
            throw new Complaint(
                    Sysexits.NO_INPUT,
                    "there is no log in " + out.toAbsolutePath().normalize() + ". Is it another stick, or was the log"
                            + " moved? Name the folder that holds " + STEM + ".jsonl now");
        }
        try {
            WorkNote text = WorkNote.read(note);
            Path folder = text.folder();
            text.check(note);
            if (!Files.exists(folder.resolve(STEM + ".jsonl"), LinkOption.NOFOLLOW_LINKS)) {
                throw new Complaint(Sysexits.NO_INPUT, note + " names " + folder + ", and there is no log in it");
            }
            Deque<Path> made = new ArrayDeque<>(List.of(folder));
            return new LogFolder(out, folder, new ArrayDeque<>(), made, Optional.of(text));
        } catch (IOException e) {
            throw Complaint.of(Sysexits.NO_INPUT, e);
        }
    }

    /**
     * Refuses to go on with a log that somebody else could lead elsewhere, or whose files are not this user's.
     *
     * @throws Complaint naming what it is
     */
    public void checkOwn() throws Complaint {
        try {
            Folder place = Folder.at(folder);
            place.check();
            for (String name : place.names()) {
                if (name.startsWith(STEM + ".")) {
                    place.checkOwn(name);
                }
            }
        } catch (DiskException e) {
            boolean missing = e.kind() == DiskException.Kind.MISSING || e.kind() == DiskException.Kind.UNREADABLE;
            throw new Complaint(missing ? Sysexits.NO_INPUT : Sysexits.NO_PERMISSION, e.getMessage());
        } catch (IOException e) {
            throw new Complaint(Sysexits.NO_INPUT, folder + " cannot be read: " + e.getMessage());
        }
    }

    private static void makeFolder(Path folder, String option, Deque<Path> made) throws Complaint {
        try {
            made.addAll(Folder.at(folder).make());
        } catch (FileAlreadyExistsException e) {
            throw new Complaint(Sysexits.CANNOT_CREATE, folder + " is a file; name a folder with " + option);
        } catch (IOException e) {
            throw new Complaint(
                    Sysexits.CANNOT_CREATE,
                    "the folder " + folder + " cannot be made: " + e.getMessage() + "; choose another with " + option);
        }
    }

    private static void refuseUsed(Path out, String name) throws Complaint {
        if (Files.exists(out.resolve(name), LinkOption.NOFOLLOW_LINKS)) {
            throw new Complaint(
                    Sysexits.CANNOT_CREATE,
                    out.resolve(name) + " exists already, and logs are never overwritten; choose another --out");
        }
    }

    /** Where the log is written. */
    public Path folder() {
        return folder;
    }

    /** The first file of the log, where it is written. */
    public Path writing() {
        return folder.resolve(STEM + ".jsonl");
    }

    /** The first file of the log, where it lies in the end. */
    public Path log() {
        return out.resolve(STEM + ".jsonl");
    }

    /** All files of the log, where they lie in the end: only together they are the whole of it. */
    public List<Path> delivered() {
        try {
            return files(out).stream().sorted().toList();
        } catch (IOException e) {
            return List.of(log()); // pulled in this very moment; the log is whole on it
        }
    }

    /** If no log came to be: takes away what was made for one. */
    public void abandon() {
        if (note.isPresent()) {
            Folder.at(out).deleteQuietly(NOTE);
            Folder.at(folder).deleteQuietly(WorkNote.MARK);
            removeQuietly(made);
        }
        removeQuietly(madeOut);
    }

    /**
     * Brings a log that was written elsewhere to its place: each file under another name, forced, read again and
     * compared, and only then given its own, the first file last. Then the original goes.
     *
     * @throws Complaint if that fails: then the original stays, and is named
     */
    public void deliver() throws Complaint {
        if (note.isEmpty()) {
            return;
        }
        try {
            // Another stick, or none: an empty mount point looks like a folder.
            if (!note.get().isIn(out)) {
                throw new IOException(out + " is not the folder that it was when the run began");
            }
            List<Path> files = files(folder);
            for (Path file : files) {
                copy(file, out.resolve(file.getFileName()));
            }
            Folder.at(out).delete(NOTE);
            for (Path file : files) {
                Folder.at(folder).delete(file.getFileName().toString());
            }
            Folder.at(folder).delete(WorkNote.MARK);
        } catch (IOException e) {
            String why = e instanceof NoSuchFileException ? e.getMessage() + " is not there" : e.getMessage();
            throw new Complaint(
                    Sysexits.IO,
                    "the log could not be copied to " + out + ": " + why + ". It is whole in " + folder
                            + ": copy what begins with '" + STEM + ".' from there yourself");
        }
        removeQuietly(made);
    }

    /** The log's files, the first one last. */
    private static List<Path> files(Path folder) throws IOException {
        Path first = folder.resolve(STEM + ".jsonl");
        return Folder.at(folder).names().stream()
                .filter(name -> name.matches(STEM + "(\\.part[0-9]+)?\\.jsonl"))
                .map(folder::resolve)
                .sorted(Comparator.comparing((Path f) -> f.equals(first)).thenComparing(Path::toString))
                .toList();
    }

    private static void copy(Path from, Path to) throws IOException {
        byte[] digest = Input.sha256(from, Named.BY_PLACE);
        // What was brought before this program was killed while it brought the rest.
        if (Files.exists(to, LinkOption.NOFOLLOW_LINKS)
                && MessageDigest.isEqual(digest, Input.sha256(to, Named.BY_PLACE))) {
            return;
        }
        NewFile.at(to).verified().write(out -> {
            try (InputStream in = Input.open(from, Named.BY_PLACE, Long.MAX_VALUE)) {
                in.transferTo(out);
            }
        });
    }

    /** The innermost first; a folder that holds something else stays. */
    private static void removeQuietly(Deque<Path> made) {
        made.forEach(Folder::removeEmpty);
    }
}

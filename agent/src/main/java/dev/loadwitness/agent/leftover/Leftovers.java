// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.leftover;

import dev.loadwitness.agent.leftover.Leftover.Kind;
import dev.loadwitness.agent.place.Trees;
import java.io.IOException;
import java.nio.ByteBuffer;
import java.nio.channels.FileChannel;
import java.nio.charset.StandardCharsets;
import java.nio.file.DirectoryIteratorException;
import java.nio.file.DirectoryStream;
import java.nio.file.Files;
import java.nio.file.LinkOption;
import java.nio.file.Path;
import java.nio.file.StandardOpenOption;
import java.time.Duration;
import java.time.Instant;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;

/**
 * Finds and removes what a run that was killed, or a machine that lost its power, left behind. A log is never removed,
 * links are never followed, and another user's files are left alone unless root asks.
 */
public final class Leftovers {
    static final String COPY_PREFIX = "loadwitness-";

    /** More than a close record takes. */
    private static final long CLOSE_BYTES = 8192;

    private static final String COPY_NAME = COPY_PREFIX + "\\d+-[A-Za-z0-9]+";
    private static final String MEASUREMENT_NAME = "loadwitness-probe\\d+\\.tmp";
    private static final String LOG_NAME = "run(\\.part\\d+)?\\.jsonl";
    private static final String ELSEWHERE = "run.elsewhere";
    private static final String ELSEWHERE_BEGINS = "The log of this run is written in ";

    /** A launcher needs a moment between making a folder and naming its owner. */
    private static final Duration BEING_MADE = Duration.ofMinutes(1);

    private static final int DEPTH = 3;

    private final Path root;
    private final long user;
    private final long self;
    private final Instant now;

    /**
     * @param root {@code /}, or a made-up tree
     * @param user whose files are looked for; 0 for everybody's
     * @param self this process, whose own copy is no leftover
     */
    Leftovers(Path root, long user, long self, Instant now) {
        this.root = root;
        this.user = user;
        this.self = self;
        this.now = now;
    }

    public static Leftovers ofThisUser() {
        return new Leftovers(Path.of("/"), ownUser(), ProcessHandle.current().pid(), Instant.now());
    }

    private static long ownUser() {
        try {
            return ((Number) Files.getAttribute(Path.of("/proc/self"), "unix:uid")).longValue();
        } catch (IOException | RuntimeException e) {
            return -1; // no Linux: then files' owners are not told either
        }
    }

    /**
     * What is there.
     *
     * @param folders where logs lie: looked into three levels deep
     */
    public List<Leftover> find(List<Path> folders) {
        List<Leftover> found = new ArrayList<>();
        List<Path> memory = new ArrayList<>(List.of(root.resolve("dev/shm"), root.resolve("run"), root.resolve("tmp")));
        memory.addAll(list(root.resolve("run/user")));
        memory.forEach(place -> copies(place, found));
        measurements(root.resolve("tmp"), found);
        folders.forEach(folder -> logs(folder, DEPTH, found));
        return found.stream().distinct().toList();
    }

    private void copies(Path place, List<Leftover> found) {
        for (Path copy : list(place)) {
            if (!copy.getFileName().toString().matches(COPY_NAME) || !Trees.isFolder(copy) || !isOurs(copy)) {
                continue;
            }
            Optional<Owner> owner = Owner.of(copy);
            if (owner.isPresent() && owner.get().isRunning(root.resolve("proc"))) {
                if (owner.get().pid() != self) {
                    add(found, Kind.MEMORY_COPY, copy, "process " + owner.get().pid() + " runs from it");
                }
            } else if (owner.isEmpty() && isYoung(copy)) {
                add(found, Kind.MEMORY_COPY, copy, "it is being made");
            } else {
                add(found, Kind.MEMORY_COPY, copy, "");
            }
        }
    }

    private void measurements(Path folder, List<Leftover> found) {
        for (Path file : list(folder)) {
            if (file.getFileName().toString().matches(MEASUREMENT_NAME) && Trees.isFile(file) && isOurs(file)) {
                add(found, Kind.MEASUREMENT, file, isYoung(file) ? "a measurement may be going on" : "");
            }
        }
    }

    private void logs(Path folder, int depth, List<Leftover> found) {
        if (!Trees.isFolder(folder)) {
            return;
        }
        measurements(folder, found);
        if (Files.exists(folder.resolve("run.jsonl"), LinkOption.NOFOLLOW_LINKS)) {
            for (String name : List.of("run.lock", "run.reserve")) {
                Path file = folder.resolve(name);
                if (Trees.isFile(file) && isOurs(file)) {
                    add(found, Kind.WRITER_FILE, file, wanted(folder, name));
                }
            }
        }
        elsewhere(folder, found);
        if (depth > 0) {
            list(folder).forEach(inner -> logs(inner, depth - 1, found));
        }
    }

    /** Why a writer's file is still wanted; empty if it is not. */
    private static String wanted(Path folder, String name) {
        if (isBeingWritten(folder)) {
            return "the log is being written";
        }
        return name.equals("run.lock") || isClosed(folder)
                ? ""
                : "the run broke off, and on a full disk 'resume' needs this; resume it, then clean again";
    }

    /** By the kind of its last record, in whichever file of the log was begun last. */
    private static boolean isClosed(Path folder) {
        Path last = folder.resolve("run.jsonl");
        for (int part = 2; Trees.isFile(folder.resolve("run.part" + part + ".jsonl")); part++) {
            last = folder.resolve("run.part" + part + ".jsonl");
        }
        try (FileChannel channel = FileChannel.open(last, StandardOpenOption.READ, LinkOption.NOFOLLOW_LINKS)) {
            ByteBuffer end = ByteBuffer.allocate((int) Math.min(CLOSE_BYTES, channel.size()));
            channel.read(end, channel.size() - end.capacity());
            String text = new String(end.array(), StandardCharsets.UTF_8).stripTrailing();
            return text.substring(text.lastIndexOf('\n') + 1).contains("\"type\":\"close\"");
        } catch (IOException e) {
            return false;
        }
    }

    /** Whether somebody holds the writer's lock; one who cannot be asked is taken for busy. */
    private static boolean isBeingWritten(Path folder) {
        Path lock = folder.resolve("run.lock");
        if (!Trees.isFile(lock)) {
            return false;
        }
        try (FileChannel channel = FileChannel.open(lock, StandardOpenOption.WRITE, LinkOption.NOFOLLOW_LINKS);
                var held = channel.tryLock()) {
            return held == null;
        } catch (IOException | RuntimeException e) {
            return true;
        }
    }

    /** A log that {@code --work-dir} kept on the internal disk goes only if the stick has the same bytes. */
    private void elsewhere(Path folder, List<Leftover> found) {
        Path note = folder.resolve(ELSEWHERE);
        if (!Trees.isFile(note)) {
            return;
        }
        Optional<Path> work = namedIn(note).filter(Trees::isFolder).filter(this::isOurs);
        if (work.isPresent() && isBeingWritten(work.get())) {
            add(found, Kind.WORK_FOLDER, work.get(), "the log is being written");
            return;
        }
        for (Path file : list(folder)) {
            if (file.getFileName().toString().matches(LOG_NAME + "\\.copying") && Trees.isFile(file) && isOurs(file)) {
                add(found, Kind.UNFINISHED_COPY, file, "");
            }
        }
        work.ifPresent(path -> add(
                found,
                Kind.WORK_FOLDER,
                path,
                isWholly(path, folder)
                        ? ""
                        : "it holds a log that " + folder + " does not; copy its run*.jsonl there, then clean again"));
    }

    private static Optional<Path> namedIn(Path note) {
        try {
            String first = Files.readString(note, StandardCharsets.UTF_8)
                    .lines()
                    .findFirst()
                    .orElse("");
            return first.startsWith(ELSEWHERE_BEGINS)
                    ? Optional.of(Path.of(first.substring(ELSEWHERE_BEGINS.length())))
                    : Optional.empty();
        } catch (IOException | RuntimeException e) {
            return Optional.empty(); // no note of ours
        }
    }

    /** Whether all in {@code work} are files of a log that {@code folder} has too, or the writer's own. */
    private static boolean isWholly(Path work, Path folder) {
        try {
            for (Path file : list(work)) {
                String name = file.getFileName().toString();
                boolean writers = Trees.isFile(file) && (name.equals("run.lock") || name.equals("run.reserve"));
                Path same = folder.resolve(name);
                boolean copied = name.matches(LOG_NAME)
                        && Trees.isFile(file)
                        && Trees.isFile(same)
                        && Files.mismatch(file, same) == -1;
                if (!writers && !copied) {
                    return false;
                }
            }
            return true;
        } catch (IOException e) {
            return false;
        }
    }

    private static void add(List<Leftover> found, Kind kind, Path path, String kept) {
        found.add(new Leftover(kind, path, Trees.bytes(path), kept));
    }

    private boolean isYoung(Path path) {
        try {
            Instant changed =
                    Files.getLastModifiedTime(path, LinkOption.NOFOLLOW_LINKS).toInstant();
            return changed.plus(BEING_MADE).isAfter(now);
        } catch (IOException e) {
            return true;
        }
    }

    /** FAT has no owners: there the one who mounted it has all. */
    private boolean isOurs(Path path) {
        if (user == 0) {
            return true;
        }
        try {
            return ((Number) Files.getAttribute(path, "unix:uid", LinkOption.NOFOLLOW_LINKS)).longValue() == user;
        } catch (UnsupportedOperationException | IllegalArgumentException e) {
            return true; // Windows: its own permissions decide
        } catch (IOException e) {
            return false;
        }
    }

    private static List<Path> list(Path folder) {
        List<Path> entries = new ArrayList<>();
        if (!Trees.isFolder(folder)) {
            return entries;
        }
        try (DirectoryStream<Path> stream = Files.newDirectoryStream(folder)) {
            stream.forEach(entries::add);
        } catch (IOException | DirectoryIteratorException e) {
            return List.of(); // not ours to look into
        }
        entries.sort(null);
        return entries;
    }

    /**
     * Removes one that may go.
     *
     * @throws IOException if something of it cannot be removed
     * @throws IllegalArgumentException if it must stay
     */
    public static void remove(Leftover leftover) throws IOException {
        if (!leftover.mayGo()) {
            throw new IllegalArgumentException(leftover.path() + " must stay: " + leftover.kept());
        }
        Trees.remove(leftover.path());
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.leftover;

import dev.loadwitness.agent.leftover.Leftover.Kind;
import dev.loadwitness.agent.place.AppendTime;
import dev.loadwitness.agent.place.WorkNote;
import dev.loadwitness.agent.process.MemoryFolder;
import dev.loadwitness.agent.process.Owner;
import dev.loadwitness.runlog.disk.Folder;
import dev.loadwitness.runlog.disk.FoundEntry;
import dev.loadwitness.runlog.disk.Input;
import dev.loadwitness.runlog.disk.Input.Named;
import dev.loadwitness.runlog.disk.NewFile;
import dev.loadwitness.runlog.disk.Self;
import dev.loadwitness.runlog.file.write.Reserve;
import java.io.IOException;
import java.io.InputStream;
import java.nio.ByteBuffer;
import java.nio.channels.FileChannel;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.security.MessageDigest;
import java.time.Duration;
import java.time.Instant;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.Set;
import java.util.regex.Matcher;
import java.util.regex.Pattern;

/**
 * Finds what a run that was killed, or a machine that lost its power, left behind: what is ours by its name, its kind, its
 * owner and what is in it. A log is never among it, links are never followed, and another user's files are left alone
 * unless root asks, who looks for logs only where nobody else can change what a name means.
 */
public final class Leftovers {
    static final String COPY_PREFIX = MemoryFolder.PREFIX;

    /** More than a close record takes. */
    private static final long CLOSE_BYTES = 8192;

    private static final int HEAD_BYTES = 4096;
    private static final int MOST_RESERVE_BYTES = 16 << 20;

    private static final Pattern COPY_NAME = Pattern.compile(COPY_PREFIX + "\\d+-[A-Za-z0-9]+");

    /** All that the launcher puts into a copy of the program. */
    private static final Set<String> COPY_HOLDS =
            Set.of(Owner.FILE, "executes", "runtime", "lib", MemoryFolder.DRIVERS);

    private static final Pattern LOG_NAME = Pattern.compile("run(\\.part\\d+)?\\.jsonl");
    private static final Pattern HEADER = Pattern.compile(
            "\\{\"n\":0,\"type\":\"header\",\"format\":\"loadwitness-run/[^\"]*\",\"run\":\"([0-9a-f]+)\"");
    private static final String LOG = "run.jsonl";
    private static final String LOCK = "run.lock";
    private static final String RESERVE = "run.reserve";

    /** A launcher needs a moment between making a folder and naming its owner. */
    private static final Duration BEING_MADE = Duration.ofMinutes(1);

    private static final int DEPTH = 3;
    private static final String UNKNOWN =
            "it does not hold what this program writes there; look at it, and remove it yourself";

    private final Path root;
    private final long user;
    private final long self;
    private final Instant now;
    private final Map<Path, Leftover> found = new LinkedHashMap<>();
    private final List<String> notLookedInto = new ArrayList<>();

    /**
     * For one look.
     *
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
        return new Leftovers(
                Path.of("/"), Self.user().orElse(-1), ProcessHandle.current().pid(), Instant.now());
    }

    /**
     * What is there.
     *
     * @param folders where logs lie: looked into three levels deep
     */
    public List<Leftover> find(List<Path> folders) {
        List<Path> memory = new ArrayList<>(List.of(root.resolve("dev/shm"), root.resolve("run"), root.resolve("tmp")));
        memory.addAll(list(root.resolve("run/user")));
        memory.forEach(this::copies);
        measurements(root.resolve("tmp"));
        folders.forEach(folder -> logs(folder, DEPTH));
        return List.copyOf(found.values());
    }

    /** For people, after {@link #find}: where nothing was looked for or believed, and why. */
    public List<String> notLookedInto() {
        return List.copyOf(notLookedInto);
    }

    private void copies(Path place) {
        for (Path path : list(place)) {
            if (!COPY_NAME.matcher(path.getFileName().toString()).matches()) {
                continue;
            }
            Optional<FoundEntry> copy = ours(path).filter(FoundEntry::isFolder).filter(Leftovers::isCopy);
            if (copy.isEmpty()) {
                continue;
            }
            Optional<Owner> owner = Owner.of(path);
            if (owner.isPresent() && owner.get().isRunning(root.resolve("proc"))) {
                if (owner.get().pid() != self) {
                    add(Kind.MEMORY_COPY, copy.get(), "process " + owner.get().pid() + " runs from it");
                }
            } else if (owner.isEmpty() && isYoung(copy.get())) {
                add(Kind.MEMORY_COPY, copy.get(), "it is being made");
            } else {
                add(Kind.MEMORY_COPY, copy.get(), "");
            }
        }
    }

    private static boolean isCopy(FoundEntry folder) {
        try {
            return COPY_HOLDS.containsAll(folder.names());
        } catch (IOException e) {
            return false;
        }
    }

    private void measurements(Path folder) {
        for (Path path : list(folder)) {
            Optional<FoundEntry> file = ours(path).filter(f -> !f.isFolder());
            if (file.isPresent()
                    && path.getFileName().toString().startsWith(COPY_PREFIX)
                    && AppendTime.isLeft(path.getFileName().toString(), head(path, AppendTime.HEAD_BYTES))) {
                add(Kind.MEASUREMENT, file.get(), isYoung(file.get()) ? "a measurement may be going on" : "");
            }
        }
    }

    private void logs(Path folder, int depth) {
        Optional<FoundEntry> there = look(folder).filter(FoundEntry::isFolder);
        if (there.isEmpty()) {
            return;
        }
        try {
            Folder.at(folder).check();
        } catch (IOException e) {
            notLookedInto.add(e.getMessage());
            return;
        }
        measurements(folder);
        unfinished(folder);
        Matcher header = HEADER.matcher(text(head(folder.resolve(LOG), HEAD_BYTES)));
        if (header.lookingAt()) {
            ours(folder.resolve(LOCK))
                    .filter(f -> !f.isFolder())
                    .ifPresent(f -> add(Kind.WRITER_FILE, f, f.bytes() == 0 ? wanted(folder, LOCK) : UNKNOWN));
            ours(folder.resolve(RESERVE))
                    .filter(f -> !f.isFolder())
                    .ifPresent(f -> add(
                            Kind.WRITER_FILE, f, isReserve(f, header.group(1)) ? wanted(folder, RESERVE) : UNKNOWN));
        }
        elsewhere(folder);
        if (depth > 0) {
            list(folder).forEach(inner -> logs(inner, depth - 1));
        }
    }

    private static boolean isReserve(FoundEntry file, String runId) {
        return file.bytes() <= MOST_RESERVE_BYTES && Reserve.isOf(runId, head(file.path(), (int) file.bytes()));
    }

    /** What a program that was killed left of a file that was to appear whole. */
    private void unfinished(Path folder) {
        for (Path path : list(folder)) {
            if (!NewFile.isUnfinished(path.getFileName().toString())) {
                continue;
            }
            Optional<FoundEntry> file = ours(path).filter(f -> !f.isFolder());
            String head = text(head(path, HEAD_BYTES));
            if (file.isPresent() && (head.isEmpty() || head.startsWith("{\"n\":") || WorkNote.isBegun(head))) {
                add(Kind.UNFINISHED_COPY, file.get(), isYoung(file.get()) ? "it may be being written" : "");
            }
        }
    }

    /** Why a writer's file is still wanted; empty if it is not. */
    private static String wanted(Path folder, String name) {
        if (isBeingWritten(folder)) {
            return "the log is being written";
        }
        return name.equals(LOCK) || isClosed(folder)
                ? ""
                : "the run broke off, and on a full disk 'resume' needs this; resume it, then clean again";
    }

    /** By the kind of its last record, in whichever file of the log was begun last. */
    private static boolean isClosed(Path folder) {
        Path last = folder.resolve(LOG);
        for (int part = 2; look(folder.resolve("run.part" + part + ".jsonl")).isPresent(); part++) {
            last = folder.resolve("run.part" + part + ".jsonl");
        }
        try (FileChannel channel = Input.channel(last, Named.BY_PLACE)) {
            ByteBuffer end = ByteBuffer.allocate((int) Math.min(CLOSE_BYTES, channel.size()));
            channel.read(end, channel.size() - end.capacity());
            String text = text(end.array()).stripTrailing();
            return text.substring(text.lastIndexOf('\n') + 1).contains("\"type\":\"close\"");
        } catch (IOException e) {
            return false;
        }
    }

    /** Whether somebody holds the writer's lock; one who cannot be asked is taken for busy. */
    private static boolean isBeingWritten(Path folder) {
        if (look(folder.resolve(LOCK)).isEmpty()) {
            return false;
        }
        try (FileChannel channel = Folder.at(folder).update(LOCK);
                var held = channel.tryLock()) {
            return held == null;
        } catch (IOException | RuntimeException e) {
            return true;
        }
    }

    /** A log that {@code --work-dir} kept on the internal disk goes only if the stick has the same bytes. */
    private void elsewhere(Path folder) {
        Path path = folder.resolve(WorkNote.NAME);
        if (look(path).isEmpty()) {
            return;
        }
        WorkNote note;
        try {
            note = WorkNote.read(path);
            if (look(note.folder()).isEmpty()) {
                return;
            }
            note.check(path);
        } catch (IOException e) {
            notLookedInto.add(e.getMessage());
            return;
        }
        Optional<FoundEntry> work = look(note.folder());
        String kept = isBeingWritten(note.folder())
                ? "the log is being written"
                : isWholly(note.folder(), folder)
                        ? ""
                        : "it holds a log that " + folder + " does not; copy its run*.jsonl there, then clean again";
        work.ifPresent(w -> add(Kind.WORK_FOLDER, w, kept));
    }

    /** Whether all in {@code work} are files of a log that {@code folder} has too, or the writer's own. */
    private static boolean isWholly(Path work, Path folder) {
        try {
            for (String name : Folder.at(work).names()) {
                boolean file =
                        look(work.resolve(name)).filter(f -> !f.isFolder()).isPresent();
                boolean writers = name.equals(LOCK) || name.equals(RESERVE) || name.equals(WorkNote.MARK);
                if (!file || (!writers && !(LOG_NAME.matcher(name).matches() && isSame(work, folder, name)))) {
                    return false;
                }
            }
            return true;
        } catch (IOException e) {
            return false;
        }
    }

    private static boolean isSame(Path work, Path folder, String name) throws IOException {
        return look(folder.resolve(name)).isPresent()
                && MessageDigest.isEqual(
                        Input.sha256(work.resolve(name), Named.BY_PLACE),
                        Input.sha256(folder.resolve(name), Named.BY_PLACE));
    }

    private void add(Kind kind, FoundEntry thing, String kept) {
        found.putIfAbsent(thing.path(), new Leftover(kind, thing, thing.bytes(), kept));
    }

    private boolean isYoung(FoundEntry thing) {
        return thing.changed().plus(BEING_MADE).isAfter(now);
    }

    /** FAT has no owners: there the one who mounted it has all. */
    private Optional<FoundEntry> ours(Path path) {
        return look(path).filter(f -> user == 0 || f.owner() == user);
    }

    private static Optional<FoundEntry> look(Path path) {
        try {
            return FoundEntry.look(path);
        } catch (IOException e) {
            return Optional.empty(); // not ours to look at
        }
    }

    private static byte[] head(Path file, int bytes) {
        try (InputStream in = Input.open(file, Named.BY_PLACE, Long.MAX_VALUE)) {
            return in.readNBytes(bytes);
        } catch (IOException e) {
            // Not to be read: then it is not known to be ours.
            return new byte[] {0};
        }
    }

    private static String text(byte[] bytes) {
        return new String(bytes, StandardCharsets.UTF_8);
    }

    private static List<Path> list(Path folder) {
        try {
            return look(folder).filter(FoundEntry::isFolder).isEmpty()
                    ? List.of()
                    : Folder.at(folder).names().stream().map(folder::resolve).toList();
        } catch (IOException e) {
            return List.of(); // not ours to look into
        }
    }

    /**
     * Removes one that may go, if it is still what was found.
     *
     * @throws IOException if it is not, or something of it cannot be removed
     * @throws IllegalArgumentException if it must stay
     */
    public static void remove(Leftover leftover) throws IOException {
        if (!leftover.mayGo()) {
            throw new IllegalArgumentException(leftover.path() + " must stay: " + leftover.kept());
        }
        leftover.thing().remove();
    }
}

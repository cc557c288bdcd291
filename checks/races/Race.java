// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import dev.loadwitness.agent.leftover.Leftover;
import dev.loadwitness.agent.leftover.Leftovers;
import dev.loadwitness.agent.place.*;
import dev.loadwitness.runlog.file.write.AttemptJournal;
import dev.loadwitness.runlog.file.store.LogFile;
import dev.loadwitness.runlog.file.line.LogPosition;
import dev.loadwitness.runlog.file.store.LogStore;
import java.io.Closeable;
import java.io.IOException;
import java.nio.ByteBuffer;
import java.nio.charset.StandardCharsets;
import java.nio.file.FileVisitResult;
import java.nio.file.Files;
import java.nio.file.LinkOption;
import java.nio.file.Path;
import java.nio.file.SimpleFileVisitor;
import java.nio.file.attribute.BasicFileAttributes;
import java.time.Duration;
import java.time.Instant;
import java.util.List;
import java.util.Optional;

/**
 * Root's side of checks/races.py: does one thing that the agent does, again and again, in a folder where another user
 * changes names meanwhile, and counts how often something of root's own was changed by it. Compiled against the agent's
 * jar, old or new, and in its package, because what the commands call stood there once (the import of a whole package finds
 * where it stands now).
 */
public final class Race {
    private static final String HEADER =
            "{\"n\":0,\"type\":\"header\",\"format\":\"loadwitness-run/1.0\",\"run\":\"b8cfc0e900f22754472a6029446e4ca7\"}\n"
                    + "{\"n\":1,\"type\":\"close\",\"reason\":\"completed\"}\n";
    private static final long LONGEST_MILLIS = 10_000;
    private static final int NOBODY = 65_534;
    private static final String COPY = "loadwitness-65534-race";

    private final Path ground;
    private final Path secret;
    private final Path safe;

    private int copies;
    private int won;
    private int refused;
    private int done;
    private String lastRefusal = "";

    private Race(Path ground, Path secret, Path safe) {
        this.ground = ground;
        this.secret = secret;
        this.safe = safe;
    }

    private interface Try {
        /** Does it once. */
        void once() throws Exception;
    }

    private interface Harm {
        /** Whether something of root's own was changed; makes it as it was. */
        boolean isDone() throws IOException;
    }

    /** Arguments: what, ground, secret, safe, tries. Prints tries, won, done, refused and the last refusal. */
    public static void main(String[] words) throws Exception {
        Race race = new Race(Path.of(words[1]), Path.of(words[2]), Path.of(words[3]));
        int tries = Integer.parseInt(words[4]);
        int number = 0;
        // Each pipe that is waited at costs seconds: a few of those are enough to have lost.
        while (number < tries && (race.won < 3 || !words[0].equals("pipe"))) {
            race.round(words[0], number++);
        }
        System.out.println(number + "\t" + race.won + "\t" + race.done + "\t" + race.refused + "\t" + race.lastRefusal);
    }

    private void round(String what, int number) throws Exception {
        Path precious = secret.resolve("precious");
        switch (what) {
            case "probe" -> round(() -> AppendTime.measure(ground, Duration.ZERO), () -> wasWritten(precious));
            case "out" -> round(
                    () -> log(LogFolder.open(ground.resolve("t/run-" + number), null)),
                    () -> appeared(secret.resolve("t/run-" + number)));
            case "out-made" -> {
                round(
                        () -> log(LogFolder.open(ground.resolve("t"), null)),
                        () -> appeared(secret.resolve("t/run.jsonl")));
                remove(ground.resolve("t"));
            }
            case "work-dir" -> round(
                    () -> log(LogFolder.open(safe.resolve("out-" + number), ground.resolve("t"))),
                    () -> appeared(secret.resolve("t/out-" + number)));
            case "reserve" -> round(
                    () -> write(LogStore.in(ground.resolve("t")), "run.reserve-" + number),
                    () -> appeared(secret.resolve("t/run.reserve-" + number)));
            case "journal" -> {
                round(
                        () -> new AttemptJournal(ground.resolve("journal"))
                                .append("T", "run", Instant.EPOCH, new LogPosition(1, "00"), "open"),
                        () -> wasWritten(precious));
                forget(ground.resolve("journal"));
            }
            case "lock" -> round(() -> lock(ground), () -> appeared(secret.resolve("made")));
            case "clean-logs" -> {
                restoreLogs();
                round(() -> clean(ground, ground), () -> !Files.exists(secret.resolve("T/1/run.lock")));
            }
            case "clean-copy" -> {
                restoreCopy();
                Path copy = ground.resolve(COPY);
                round(() -> clean(safe, copy), () -> !Files.exists(secret.resolve("d/50")));
            }
            case "procedure" -> {
                boolean[] secrets = new boolean[1];
                round(
                        () -> secrets[0] = Texts.file(ground.resolve("t/p.yaml")).text().contains("secret"),
                        () -> secrets[0]);
            }
            case "pipe" -> {
                Thread reader = new Thread(() -> attempt(() -> Texts.file(ground.resolve("lock"))), "reader");
                reader.setDaemon(true);
                reader.start();
                reader.join(LONGEST_MILLIS);
                if (reader.isAlive()) {
                    won++;
                }
            }
            default -> throw new IllegalArgumentException(what);
        }
    }

    /** Where the other user made it, in a shared folder, it is not this one's to remove. */
    private static void forget(Path file) {
        try {
            if (Files.isRegularFile(file, LinkOption.NOFOLLOW_LINKS) && file.getParent().endsWith("shared")) {
                Files.deleteIfExists(file);
            }
        } catch (IOException e) {
            return;
        }
    }

    private void attempt(Try body) {
        try {
            body.once();
            done++;
        } catch (Exception e) {
            refused++;
            lastRefusal = String.valueOf(e.getMessage()).replace('\n', ' ');
        }
    }

    private void round(Try body, Harm harm) throws IOException {
        attempt(body);
        if (harm.isDone()) {
            won++;
        }
    }

    private static void lock(Path folder) throws IOException {
        Optional<Closeable> lock = LogStore.in(folder).lock("lock");
        if (lock.isPresent()) {
            lock.get().close();
        }
    }

    private static void log(LogFolder place) throws IOException {
        write(LogStore.in(place.folder()), "run.jsonl");
    }

    private static void write(LogStore store, String name) throws IOException {
        try (LogFile file = store.create(name)) {
            file.write(ByteBuffer.wrap(HEADER.getBytes(StandardCharsets.US_ASCII)));
        }
    }

    /** As {@code clean --yes} does it, but removes only what lies in {@code only}. */
    private static void clean(Path folder, Path only) throws IOException {
        IOException failed = new IOException("nothing was found to remove");
        for (Leftover leftover : Leftovers.ofThisUser().find(List.of(folder))) {
            if (leftover.mayGo() && leftover.path().startsWith(only)) {
                try {
                    Leftovers.remove(leftover);
                    failed = null;
                } catch (IOException e) {
                    failed = e;
                }
            }
        }
        if (failed != null) {
            throw failed;
        }
    }

    private static boolean wasWritten(Path precious) throws IOException {
        String text = Files.readString(precious);
        if (text.equals("precious\n")) {
            return false;
        }
        Files.writeString(precious, "precious\n");
        return true;
    }

    private static boolean appeared(Path path) throws IOException {
        boolean there = Files.exists(path, LinkOption.NOFOLLOW_LINKS);
        remove(path);
        return there;
    }

    private void restoreLogs() throws IOException {
        for (Path log : List.of(secret.resolve("T/1"), ground.resolve("T/1"), ground.resolve("T.other/1"))) {
            if (Files.isDirectory(log)) {
                Files.writeString(log.resolve("run.jsonl"), HEADER);
                Files.writeString(log.resolve("run.lock"), "");
            }
        }
    }

    /** A copy of the program in memory, of the other user: the names that he exchanges are folders in it. */
    private void restoreCopy() throws IOException {
        for (int file = 0; file < 100; file++) {
            Files.writeString(Files.createDirectories(secret.resolve("d")).resolve("" + file), "");
        }
        Path built = Files.createDirectories(safe.resolve("built-" + copies++));
        if (!Files.getFileStore(built).equals(Files.getFileStore(ground))) {
            built = Files.createDirectory(ground.resolve("built-" + copies));
        }
        Path inner = Files.createDirectories(built.resolve("runtime/d"));
        for (int file = 0; file < 100; file++) {
            Files.writeString(inner.resolve("" + file), "");
        }
        Files.createSymbolicLink(built.resolve("runtime/e"), secret.resolve("d"));
        Files.writeString(built.resolve("owner"), "1 1\n");
        Files.walkFileTree(built, new SimpleFileVisitor<>() {
            @Override
            public FileVisitResult visitFile(Path file, BasicFileAttributes attributes) throws IOException {
                return give(file);
            }

            @Override
            public FileVisitResult preVisitDirectory(Path folder, BasicFileAttributes attributes) throws IOException {
                return give(folder);
            }
        });
        Path copy = ground.resolve(COPY);
        if (Files.exists(copy)) {
            Path away = ground.resolve("away-" + copies);
            Files.move(copy, away);
            remove(away);
        }
        Files.move(built, copy);
    }

    private static FileVisitResult give(Path path) throws IOException {
        Files.setAttribute(path, "unix:uid", NOBODY, LinkOption.NOFOLLOW_LINKS);
        return FileVisitResult.CONTINUE;
    }

    private static void remove(Path tree) throws IOException {
        if (!Files.exists(tree, LinkOption.NOFOLLOW_LINKS)) {
            return;
        }
        new ProcessBuilder("rm", "-rf", tree.toString()).start().onExit().join();
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import static java.nio.charset.StandardCharsets.UTF_8;
import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Part;
import dev.loadwitness.runlog.Sample;
import dev.loadwitness.runlog.file.line.Damage;
import dev.loadwitness.runlog.file.line.LogPosition;
import dev.loadwitness.runlog.file.read.Collector;
import dev.loadwitness.runlog.file.read.Example;
import dev.loadwitness.runlog.file.read.LogScan;
import dev.loadwitness.runlog.file.read.ReadSummary;
import dev.loadwitness.runlog.file.read.RunLogReader;
import dev.loadwitness.runlog.file.store.LogStore;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;
import java.util.Map;
import java.util.Random;
import java.util.concurrent.CopyOnWriteArrayList;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class RunLogWriterTest {
    private static final Duration SOON = Duration.ofSeconds(20);

    @TempDir
    Path folder;

    private final List<String> heard = new CopyOnWriteArrayList<>();

    private final WriterListener listener = new WriterListener() {
        @Override
        public void storageLow(String detail) {
            heard.add("low");
        }

        @Override
        public void storageLost(String detail) {
            heard.add("lost");
        }

        @Override
        public void storageBack(Duration lost) {
            heard.add("back");
        }

        @Override
        public void stalled(Duration length) {
            heard.add("stalled");
        }

        @Override
        public void partBegun(int part, String why) {
            heard.add("part " + part);
        }
    };

    /** Long, so that a busy test machine is not taken for a stalled disk; the test about stalls sets its own. */
    private Duration stall = Duration.ofSeconds(30);

    private WriterOptions options(long queueBytes, int ballast) {
        return new WriterOptions(queueBytes, 1 << 20, ballast, stall, Duration.ofMillis(2), System::nanoTime, listener);
    }

    private RunLogWriter begin(LogStore store, WriterOptions options) throws IOException {
        RunLogWriter writer = RunLogWriter.create(store, "run", Example.header(), options);
        writer.append(Example.boot(0));
        writer.append(Example.channels(0, 2));
        return writer;
    }

    private static Sample sample(int i) {
        return Example.sample(0, 1 + i * 0.001, i, 0.5);
    }

    private static Collector read(LogStore store) throws IOException {
        Collector found = new Collector();
        new LogScan(store, "run.jsonl", found).run();
        return found;
    }

    @Test
    void anExistingLogIsNeverOverwritten() throws Exception {
        Files.writeString(folder.resolve("run.jsonl"), "precious");
        assertThatThrownBy(() -> begin(LogStore.in(folder), WriterOptions.defaults(listener)))
                .isInstanceOf(IOException.class)
                .hasMessageContaining("exists already")
                .hasMessageContaining("run.jsonl");
        assertThat(folder.resolve("run.jsonl")).hasContent("precious");
    }

    @Test
    void aFolderThatIsMissingIsSaidSo() {
        assertThatThrownBy(() -> begin(LogStore.in(folder.resolve("nowhere")), WriterOptions.defaults(listener)))
                .isInstanceOf(IOException.class)
                .hasMessageContaining("cannot look into the folder")
                .hasMessageContaining("nowhere");
    }

    @Test
    void aSecondWriterIsRefusedWhileTheFirstHoldsTheLock() throws Exception {
        try (RunLogWriter writer = begin(LogStore.in(folder), WriterOptions.defaults(listener))) {
            assertThat(writer.acknowledged()).isPositive();
            assertThatThrownBy(() -> RunLogWriter.resume(
                            LogStore.in(folder), "run", Example::boot, WriterOptions.defaults(listener)))
                    .isInstanceOf(IOException.class)
                    .hasMessageContaining("another writer");
            assertThat(anotherProcessGetsTheLock()).isFalse();
        }
        assertThat(anotherProcessGetsTheLock()).isTrue();
        // To resume reads the log first; the lock must outlive that.
        try (RunLogWriter writer =
                RunLogWriter.resume(LogStore.in(folder), "run", Example::boot, WriterOptions.defaults(listener))) {
            assertThat(writer.acknowledged()).isPositive();
            assertThat(anotherProcessGetsTheLock()).isFalse();
            writer.append(Example.close(1, 1, 0));
        }
        assertThat(folder.resolve("run.lock")).doesNotExist();
    }

    private boolean anotherProcessGetsTheLock() throws Exception {
        String script = "import fcntl; fcntl.lockf(open('run.lock', 'r+'), fcntl.LOCK_EX | fcntl.LOCK_NB)";
        Process process = new ProcessBuilder("python3", "-c", script)
                .directory(folder.toFile())
                .redirectErrorStream(true)
                .start();
        String said = new String(process.getInputStream().readAllBytes(), UTF_8);
        boolean got = process.waitFor() == 0;
        assertThat(got || said.contains("BlockingIOError")).as(said).isTrue();
        return got;
    }

    @Test
    void aReserveOfRealBytesLiesBesideTheLogUntilItIsClosed() throws Exception {
        try (RunLogWriter writer = begin(LogStore.in(folder), WriterOptions.defaults(listener))) {
            assertThat(writer.acknowledged()).isPositive();
            assertThat(Files.size(folder.resolve("run.reserve"))).isEqualTo(256 << 10);
        }
        assertThat(folder.resolve("run.reserve")).doesNotExist();
    }

    @Test
    void shortWritesAreContinuedAtTheRightByte() throws Exception {
        FaultyStore store = new FaultyStore(1);
        store.shortWrites = 0.9;
        List<LogRecord> records = Example.records();
        try (RunLogWriter writer = RunLogWriter.create(store, "run", Example.header(), options(1 << 20, 0))) {
            records.subList(1, records.size()).forEach(writer::append);
        }
        Collector found = read(store);
        assertThat(found.damages).isEmpty();
        assertThat(found.records).isEqualTo(Collector.comparable(records));
    }

    @Test
    void onAFullDiskTheReserveCarriesTheEndOfTheRun() throws Exception {
        FaultyStore store = new FaultyStore(2);
        RunLogWriter writer = begin(store, options(1 << 20, 64 << 10));
        assertThat(writer.awaitDurable(3, SOON)).isTrue();
        store.setRoom(store.usedBytes() + 500);
        List<Object> appended = new ArrayList<>();
        long ticket = 0;
        for (int i = 0; i < 50; i++) {
            ticket = writer.append(sample(i));
            appended.add(Collector.comparable(sample(i)));
        }
        assertThat(writer.awaitDurable(ticket, SOON)).isTrue();
        assertThat(heard).containsExactly("low");
        assertThat(writer.close(SOON)).isZero();
        Collector found = read(store);
        assertThat(found.damages).isEmpty();
        assertThat(found.records.subList(3, found.records.size())).isEqualTo(appended);
    }

    @Test
    void whenNothingIsLeftRecordsWaitInMemoryAndSamplesAreDroppedFirstAndCounted() throws Exception {
        FaultyStore store = new FaultyStore(3);
        RunLogWriter writer = begin(store, options(4000, 0));
        assertThat(writer.awaitDurable(3, SOON)).isTrue();
        store.setRoom(0);
        // The writing thread holds one record and is stuck with it: what follows must find room in the queue alone.
        writer.append(Example.event(0, 1));
        while (writer.trouble().isEmpty()) {
            Thread.sleep(1);
        }
        int dropped = 0;
        for (int i = 0; i < 100; i++) {
            dropped += writer.append(sample(i)) < 0 ? 1 : 0;
        }
        assertThat(dropped).isBetween(20, 99);
        long ticket = writer.append(Example.event(0, 2));
        assertThat(ticket).as("an event still finds room").isPositive();
        assertThat(writer.awaitDurable(ticket, Duration.ofMillis(30))).isFalse();
        assertThat(writer.oldestUndurableAge(System.nanoTime())).isGreaterThan(Duration.ofMillis(30));
        store.setRoom(Long.MAX_VALUE);
        assertThat(writer.awaitDurable(ticket, SOON)).isTrue();
        assertThat(writer.close(SOON)).isZero();
        Collector found = read(store);
        assertThat(found.damages).isEmpty();
        List<Event> announced = found.records.stream()
                .filter(Event.class::isInstance)
                .map(Event.class::cast)
                .filter(event -> event.kind().equals(EventKind.SAMPLES_DROPPED.word()))
                .toList();
        assertThat(announced).hasSize(1);
        assertThat(announced.get(0).number("count")).isEqualTo(dropped);
        assertThat(announced.get(0).number("from"))
                .isBetween(1.0, announced.get(0).number("to"));
        assertThat(announced.get(0).number("to")).isEqualTo(1.099);
    }

    @Test
    void aStallNeverBlocksAppendIsVisibleWhileItLastsAndToldWhenItEnds() throws Exception {
        stall = Duration.ofMillis(300);
        FaultyStore store = new FaultyStore(4);
        RunLogWriter writer = begin(store, options(1 << 20, 0));
        assertThat(writer.awaitDurable(3, SOON)).isTrue();
        heard.clear();
        store.stall(1500);
        writer.append(sample(0));
        Thread.sleep(100);
        long before = System.nanoTime();
        long ticket = 0;
        for (int i = 1; i < 100; i++) {
            ticket = writer.append(sample(i));
        }
        assertThat(Duration.ofNanos(System.nanoTime() - before)).isLessThan(Duration.ofSeconds(1));
        assertThat(writer.oldestUndurableAge(System.nanoTime())).isGreaterThan(Duration.ofMillis(80));
        assertThat(heard).isEmpty();
        store.stall(0);
        assertThat(writer.awaitDurable(ticket, SOON)).isTrue();
        assertThat(heard).containsExactly("stalled");
        assertThat(writer.oldestUndurableAge(System.nanoTime())).isZero();
        writer.close();
    }

    @Test
    void closeGivesUpInBoundedTimeAndSaysWhatIsNotDurable() throws Exception {
        FaultyStore store = new FaultyStore(5);
        RunLogWriter writer = begin(store, options(1 << 20, 0));
        assertThat(writer.awaitDurable(3, SOON)).isTrue();
        store.setRoom(0);
        writer.append(sample(0));
        writer.append(sample(1));
        long before = System.nanoTime();
        assertThat(writer.close(Duration.ofMillis(50))).isEqualTo(2);
        assertThat(Duration.ofNanos(System.nanoTime() - before)).isLessThan(Duration.ofSeconds(5));
        assertThatThrownBy(() -> writer.append(sample(2))).isInstanceOf(IllegalStateException.class);
    }

    @Test
    void afterAFailedForceTheLogGoesOnInAFurtherPartAndNothingIsLost() throws Exception {
        FaultyStore store = new FaultyStore(6);
        RunLogWriter writer = begin(store, options(1 << 20, 0));
        assertThat(writer.awaitDurable(3, SOON)).isTrue();
        store.failForces(3);
        long ticket = 0;
        for (int i = 0; i < 20; i++) {
            ticket = writer.append(sample(i));
        }
        assertThat(writer.awaitDurable(ticket, SOON)).isTrue();
        LogPosition position = writer.position();
        assertThat(heard).containsExactly("lost", "part 2", "back");
        writer.close();
        Collector found = new Collector();
        ReadSummary summary = new LogScan(store.cutPower(), "run.jsonl", found).run();
        assertThat(found.damages).isEmpty();
        assertThat(summary.records()).containsEntry("sample", 20L).containsEntry("part", 1L);
        assertThat(summary.lastChain()).isEqualTo(position.chain());
        assertThat(position.records()).isEqualTo(24);
    }

    @Test
    void aWriteThatKeepsFailingWithRoomLeftAlsoOpensAFurtherPart() throws Exception {
        FaultyStore store = new FaultyStore(7);
        RunLogWriter writer = begin(store, options(1 << 20, 0));
        assertThat(writer.awaitDurable(3, SOON)).isTrue();
        store.failWrites(1);
        long ticket = writer.append(sample(0));
        while (store.writesFailed() < 8) {
            Thread.sleep(1);
        }
        store.failWrites(0);
        assertThat(writer.awaitDurable(ticket, SOON)).isTrue();
        writer.close();
        assertThat(heard).containsExactly("lost", "part 2", "back");
        assertThat(read(store).damages).isEmpty();
    }

    @Test
    void aClosedLogIsNotResumed() throws Exception {
        List<LogRecord> records = Example.records();
        Files.write(folder.resolve("run.jsonl"), Example.bytes(Example.lines(records)));
        assertThatThrownBy(() -> RunLogWriter.resume(
                        LogStore.in(folder), "run", Example::boot, WriterOptions.defaults(listener)))
                .isInstanceOf(IOException.class)
                .hasMessageContaining("closed");
    }

    @Test
    void whoRefusesToGoOnHasSeenTheWholeLogAndLeavesItAsItWas() throws Exception {
        byte[] before = Example.bytes(Example.lines(Example.records()).subList(0, 6));
        Path file = folder.resolve("run.jsonl");
        Files.write(file, before);
        Collector seen = new Collector();
        assertThatThrownBy(() -> RunLogWriter.resume(
                        LogStore.in(folder),
                        "run",
                        segment -> {
                            assertThat(seen.records).hasSize(6);
                            throw new IOException("not this machine");
                        },
                        seen,
                        WriterOptions.defaults(listener)))
                .hasMessageContaining("not this machine");
        assertThat(file).hasBinaryContent(before);
        assertThat(anotherProcessGetsTheLock()).isTrue();
    }

    @Test
    void onAFullDiskTheReserveOfTheKilledRunMakesRoomForTheBootRecord() throws Exception {
        Path small = Files.createDirectory(folder.resolve("small-disk"));
        run("mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", small.toString());
        try {
            byte[] before = Example.bytes(Example.lines(Example.records()).subList(0, 6));
            Files.write(small.resolve("run.jsonl"), before);
            Files.write(small.resolve("run.reserve"), new byte[8 << 10]);
            fill(small.resolve("other"));
            try (RunLogWriter writer =
                    RunLogWriter.resume(LogStore.in(small), "run", Example::boot, WriterOptions.defaults(listener))) {
                assertThat(writer.acknowledged()).isEqualTo(1);
                assertThat(Files.size(small.resolve("run.jsonl"))).isGreaterThan(before.length);
                writer.append(Example.close(1, 1, 0));
            }
            Collector after = new Collector();
            assertThat(RunLogReader.read(small.resolve("run.jsonl"), after).closed())
                    .isTrue();
            assertThat(after.damages).isEmpty();
        } finally {
            run("umount", small.toString());
        }
    }

    @Test
    void onAFullDiskWithoutAReserveTheMessageSaysToMakeRoom() throws Exception {
        Path small = Files.createDirectory(folder.resolve("small-disk"));
        run("mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", small.toString());
        try {
            Files.write(
                    small.resolve("run.jsonl"),
                    Example.bytes(Example.lines(Example.records()).subList(0, 6)));
            Files.createFile(small.resolve("run.lock"));
            fill(small.resolve("other"));
            Path log = small.resolve("run.jsonl");
            // To the end of its page: a line may still fit into that.
            Files.write(log, new byte[(int) (4096 - Files.size(log) % 4096)], java.nio.file.StandardOpenOption.APPEND);
            assertThatThrownBy(() -> RunLogWriter.resume(
                            LogStore.in(small), "run", Example::boot, WriterOptions.defaults(listener)))
                    .isInstanceOf(IOException.class)
                    .hasMessageContaining("Make room");
        } finally {
            run("umount", small.toString());
        }
    }

    private static void fill(Path file) throws IOException {
        try (var out = Files.newOutputStream(file)) {
            byte[] page = new byte[4096];
            while (true) {
                out.write(page);
            }
        } catch (IOException e) {
            assertThat(e).hasMessageContaining("No space left");
        }
    }

    private static void run(String... command) throws Exception {
        Process process = new ProcessBuilder(command).redirectErrorStream(true).start();
        String said = new String(process.getInputStream().readAllBytes(), UTF_8);
        assertThat(process.waitFor()).as(said).isZero();
    }

    @Test
    void resumeAtEveryCutDeclaresTheTornBytesAndChangesNothingBeforeThem() throws Exception {
        byte[] log = Example.bytes(Example.lines(Example.records()).subList(0, 6));
        int header = Example.lines(Example.records()).get(0).length;
        for (int cut = header - 1; cut <= log.length; cut++) {
            Path place = Files.createDirectory(folder.resolve("cut" + cut));
            Path file = place.resolve("run.jsonl");
            byte[] before = Arrays.copyOf(log, cut);
            Files.write(file, before);
            Collector first = new Collector();
            RunLogReader.read(file, first);
            int[] asked = {-1};
            try (RunLogWriter writer = RunLogWriter.resume(
                    LogStore.in(place),
                    "run",
                    segment -> {
                        asked[0] = segment;
                        return Example.boot(segment);
                    },
                    options(1 << 20, 0))) {
                assertThat(writer.position().records()).isEqualTo(first.records.size() + 1);
            }
            byte[] after = Files.readAllBytes(file);
            assertThat(after).as("cut at byte %d", cut).startsWith(before);
            Collector second = new Collector();
            ReadSummary summary = RunLogReader.read(file, second);
            assertThat(second.damages)
                    .as("cut at byte %d", cut)
                    .allMatch(Damage::isTornTail)
                    .hasSize(first.damages.size());
            assertThat(second.records.subList(0, first.records.size())).isEqualTo(first.records);
            assertThat(second.records).hasSize(first.records.size() + 1);
            Boot boot = (Boot) second.records.get(first.records.size());
            assertThat(boot.at().segment()).isEqualTo(asked[0]);
            assertThat(boot.torn().isPresent()).isEqualTo(!first.damages.isEmpty());
            assertThat(summary.whole()).isTrue();
        }
    }

    @Test
    void resumeKeepsWhatIsSaidOfARecordThatWasAltered() throws Exception {
        String log = new String(Example.bytes(Example.lines(Example.records()).subList(0, 6)), UTF_8);
        Path file = Files.writeString(folder.resolve("run.jsonl"), log.replaceFirst("\"utc\":\"2", "\"utc\":\"1"));
        Collector first = new Collector();
        RunLogReader.read(file, first);
        assertThat(first.damages).extracting(Damage::kind).contains(Damage.Kind.EDITED);
        try (RunLogWriter writer =
                RunLogWriter.resume(LogStore.in(folder), "run", Example::boot, options(1 << 20, 0))) {
            assertThat(writer.leftBehind()).isEmpty();
        }
        Collector second = new Collector();
        RunLogReader.read(file, second);
        assertThat(second.damages).isEqualTo(first.damages);
        assertThat(second.records.subList(0, first.records.size())).isEqualTo(first.records);
        assertThat(folder.resolve("run.part2.jsonl")).doesNotExist();
    }

    @Test
    void recordsBehindSpoiltBytesAreLeftBehindAndCounted() throws Exception {
        List<byte[]> lines = Example.lines(Example.records()).subList(0, 7);
        byte[] log = Example.bytes(lines);
        int third = lines.get(0).length + lines.get(1).length + lines.get(2).length;
        Arrays.fill(log, third, third + lines.get(3).length - 1, (byte) 0);
        Path file = Files.write(folder.resolve("run.jsonl"), log);
        try (RunLogWriter writer =
                RunLogWriter.resume(LogStore.in(folder), "run", Example::boot, options(1 << 20, 0))) {
            RunLogWriter.LeftBehind left = writer.leftBehind().orElseThrow();
            assertThat(left.damage().kind()).isEqualTo(Damage.Kind.NUL_BYTES);
            assertThat(left.damage().place().line()).isEqualTo(4);
            assertThat(left.records()).isEqualTo(4);
        }
        Collector read = new Collector();
        assertThat(RunLogReader.read(file, read).whole()).isTrue();
        assertThat(Files.readAllBytes(file)).isEqualTo(log);
    }

    @Test
    void nothingAcknowledgedIsEverLostWhateverTheDiskDoes() throws Exception {
        long base = Long.getLong("seed", 1);
        int torn = 0;
        int parts = 0;
        for (long seed = base; seed < base + 100; seed++) {
            FaultyStore store = new FaultyStore(seed);
            Random random = new Random(seed);
            boolean forcesFail = random.nextBoolean();
            RunLogWriter writer = begin(store, options(1 << 20, random.nextBoolean() ? 0 : 4096));
            store.disturb(random.nextDouble() / 2, forcesFail ? random.nextDouble() / 2 : 0, random.nextDouble() / 10);
            List<Object> handed = new ArrayList<>(List.of(Example.header(), Example.boot(0)));
            handed.add(Example.channels(0, 2));
            int count = random.nextInt(300);
            for (int i = 0; i < count; i++) {
                LogRecord record = random.nextInt(20) == 0 ? Example.event(0, 1 + i * 0.001) : sample(i);
                writer.append(record);
                handed.add(Collector.comparable(record));
                if (random.nextInt(10) == 0) {
                    Thread.sleep(1);
                }
            }
            long acknowledged = writer.acknowledged();
            FaultyStore after = store.cutPower();
            writer.close(Duration.ofMillis(1));

            Collector found = read(after);
            List<Object> records = withoutParts(found);
            String where = "seed " + seed + ", " + acknowledged + " acknowledged, " + records.size() + " read";
            assertThat((long) records.size()).as(where).isGreaterThanOrEqualTo(acknowledged);
            assertThat(records.subList(0, (int) acknowledged)).as(where).isEqualTo(handed.subList(0, (int)
                    acknowledged));
            torn += found.damages.isEmpty() ? 0 : 1;
            parts += after.list().contains("run.part2.jsonl") ? 1 : 0;

            int[] segment = {-1};
            RunLogWriter resumed = RunLogWriter.resume(
                    after,
                    "run",
                    next -> {
                        segment[0] = next;
                        return Example.boot(next);
                    },
                    options(1 << 20, 0));
            resumed.append(Example.channels(segment[0], 1));
            resumed.append(Example.close(segment[0], 9, 0));
            assertThat(resumed.close(SOON)).as(where).isZero();
            Collector again = new Collector();
            ReadSummary summary = new LogScan(after, "run.jsonl", again).run();
            assertThat(summary.closed()).as(where).isTrue();
            assertThat(withoutParts(again).subList(0, (int) acknowledged))
                    .as(where)
                    .isEqualTo(handed.subList(0, (int) acknowledged));
            if (!forcesFail) {
                assertThat(again.damages).as(where).allMatch(Damage::isTornTail);
            }
        }
        // Without these the test above would have tried nothing.
        assertThat(torn).isGreaterThan(10);
        assertThat(parts).isGreaterThan(10);
    }

    private static List<Object> withoutParts(Collector found) {
        return found.records.stream()
                .filter(record -> !(record instanceof Part))
                .toList();
    }

    @Test
    void whatDoesNotFitALineIsRefusedAtOnce() throws Exception {
        try (RunLogWriter writer = begin(new FaultyStore(8), options(1 << 24, 0))) {
            Event event = Event.of(
                    Example.at(0, 1), Example.utc(1), EventKind.OPERATOR_NOTE, Map.of("text", "x".repeat(2 << 20)));
            assertThatThrownBy(() -> writer.append(event))
                    .isInstanceOf(IllegalArgumentException.class)
                    .hasMessageContaining("shorten");
        }
    }

    @Test
    void halfASurrogatePairDoesNotStopTheLog() throws Exception {
        FaultyStore store = new FaultyStore(9);
        try (RunLogWriter writer = begin(store, options(1 << 20, 0))) {
            writer.append(Event.of(
                    Example.at(0, 1), Example.utc(1), EventKind.KERNEL_MESSAGE, Map.of("text", "a\ud800b\u0000\n")));
        }
        Collector found = read(store);
        assertThat(found.damages).isEmpty();
        assertThat(((Event) found.records.get(3)).text("text")).isEqualTo("a\ufffdb\u0000\n");
    }
}

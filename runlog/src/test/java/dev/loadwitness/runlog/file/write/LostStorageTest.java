// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.Part;
import dev.loadwitness.runlog.Sample;
import dev.loadwitness.runlog.file.read.Collector;
import dev.loadwitness.runlog.file.read.Example;
import dev.loadwitness.runlog.file.read.LogScan;
import dev.loadwitness.runlog.file.read.ReadSummary;
import dev.loadwitness.runlog.file.store.LogStore;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.util.ArrayList;
import java.util.List;
import java.util.Random;
import java.util.concurrent.CopyOnWriteArrayList;
import java.util.concurrent.atomic.AtomicBoolean;
import java.util.function.BooleanSupplier;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/** The stick is pulled, filled, or turned read-only, and comes back, or another does. */
class LostStorageTest {
    private static final Duration SOON = Duration.ofSeconds(20);
    private static final Duration A_FEW_TRIES = Duration.ofMillis(60);
    private static final List<String> LEFT_AT_THE_END = List.of("run.jsonl", "run.part2.jsonl");

    private final List<String> heard = new CopyOnWriteArrayList<>();
    private final List<Object> handed = new ArrayList<>();
    private int next;

    private final WriterListener listener = new WriterListener() {
        @Override
        public void storageLow(String detail) {
            heard.add("low");
        }

        @Override
        public void storageLost(String detail) {
            heard.add("lost: " + detail);
        }

        @Override
        public void storageBack(Duration lost) {
            heard.add("back");
        }
    };

    private WriterOptions options(long queueBytes) {
        return new WriterOptions(
                queueBytes, 1 << 20, 4096, Duration.ofSeconds(30), Duration.ofMillis(2), System::nanoTime, listener);
    }

    private RunLogWriter begin(LogStore store, long queueBytes) throws Exception {
        return begin(store, options(queueBytes));
    }

    private RunLogWriter beginAnew(LogStore store) throws Exception {
        heard.clear();
        handed.clear();
        next = 0;
        return begin(store, 1 << 20);
    }

    private RunLogWriter begin(LogStore store, WriterOptions options) throws Exception {
        RunLogWriter writer = RunLogWriter.create(store, "run", Example.header(), options);
        handed.add(Collector.comparable(Example.header()));
        handed.add(Example.boot(0));
        handed.add(Example.channels(0, 2));
        writer.append(Example.boot(0));
        assertThat(writer.awaitDurable(writer.append(Example.channels(0, 2)), SOON))
                .isTrue();
        return writer;
    }

    private long write(RunLogWriter writer, int samples) {
        long ticket = 0;
        for (int i = 0; i < samples; i++) {
            Sample sample = Example.sample(0, 1 + next * 0.001, next, 0.5);
            next++;
            ticket = writer.append(sample);
            if (ticket > 0) {
                handed.add(Collector.comparable(sample));
            }
        }
        return ticket;
    }

    private long end(RunLogWriter writer) {
        writer.append(Example.close(0, 9, next));
        handed.add(Example.close(0, 9, next));
        return writer.close(SOON);
    }

    private static Header anotherHeader() {
        Header one = Example.header();
        return new Header(
                "f".repeat(32),
                one.utc(),
                one.ticket(),
                one.nonce(),
                one.earlier(),
                one.simulated(),
                one.facts(),
                one.withheld(),
                one.agentVersion(),
                one.procedure(),
                one.jobSheet(),
                one.ambientCelsius(),
                one.ambientHow(),
                one.undurable());
    }

    private static void until(BooleanSupplier condition) throws InterruptedException {
        long end = System.nanoTime() + SOON.toNanos();
        while (!condition.getAsBoolean()) {
            assertThat(System.nanoTime()).as("waited in vain").isLessThan(end);
            Thread.sleep(1);
        }
    }

    private void untilLost() throws InterruptedException {
        until(() -> heard.stream().anyMatch(word -> word.startsWith("lost")));
    }

    /** Everything handed over is there, in order, once, and the reader finds nothing wrong. */
    private void whole(LogStore store) throws IOException {
        Collector found = new Collector();
        ReadSummary summary = new LogScan(store, "run.jsonl", found).run();
        assertThat(found.damages).isEmpty();
        assertThat(summary.closed()).isTrue();
        assertThat(found.records.stream().filter(r -> !(r instanceof Part)).toList())
                .isEqualTo(handed);
    }

    @Test
    void aStickThatIsPulledAndComesBackGetsEverythingInAFurtherPart() throws Exception {
        FaultyStore stick = new FaultyStore(11);
        MountPoint path = new MountPoint(stick);
        RunLogWriter writer = begin(path, 1 << 20);
        FaultyStore back = stick.cutPower();
        path.unmount();
        long ticket = write(writer, 50);
        untilLost();
        assertThat(writer.trouble()).hasValueSatisfying(t -> assertThat(t).contains("cannot be reached"));
        assertThat(writer.awaitDurable(ticket, A_FEW_TRIES)).isFalse();
        path.mount(back);
        assertThat(writer.awaitDurable(ticket, SOON)).isTrue();
        assertThat(writer.trouble()).isEmpty();
        assertThat(back.isLocked("run.lock")).as("the lock is taken again").isTrue();
        write(writer, 10);
        assertThat(end(writer)).isZero();
        assertThat(heard).last().isEqualTo("back");
        whole(back);
        assertThat(back.list()).isEqualTo(LEFT_AT_THE_END);
    }

    /** It comes back in the moment in which the writer has looked for it in vain: that says nothing about room. */
    @Test
    void aStickThatComesBackBetweenTwoLooksKeepsItsReserve() throws Exception {
        FaultyStore stick = new FaultyStore(24);
        MountPoint path = new MountPoint(stick);
        RunLogWriter writer = begin(path, 1 << 20);
        FaultyStore back = stick.cutPower();
        path.missOnce(back);
        assertThat(writer.awaitDurable(write(writer, 5), SOON)).isTrue();
        assertThat(heard).hasSize(2).doesNotContain("low");
        assertThat(heard.get(0)).startsWith("lost").contains("cannot be reached");
        assertThat(end(writer)).isZero();
        whole(back);
        assertThat(back.list()).isEqualTo(LEFT_AT_THE_END);
    }

    @Test
    void anEmptyMountPointIsNeverWrittenTo() throws Exception {
        FaultyStore stick = new FaultyStore(12);
        MountPoint path = new MountPoint(stick);
        RunLogWriter writer = begin(path, 1 << 20);
        FaultyStore back = stick.cutPower();
        FaultyStore empty = new FaultyStore(13);
        path.mount(empty);
        long ticket = write(writer, 50);
        untilLost();
        assertThat(writer.awaitDurable(ticket, A_FEW_TRIES)).isFalse();
        assertThat(writer.trouble()).hasValueSatisfying(t -> assertThat(t).contains("not there any more"));
        assertThat(empty.list()).isEmpty();
        path.mount(back);
        assertThat(end(writer)).isZero();
        assertThat(empty.list()).isEmpty();
        whole(back);
        assertThat(back.list()).isEqualTo(LEFT_AT_THE_END);
    }

    @Test
    void anotherStickInTheSamePlaceIsNeverWrittenTo() throws Exception {
        FaultyStore stick = new FaultyStore(14);
        MountPoint path = new MountPoint(stick);
        RunLogWriter writer = begin(path, 1 << 20);
        FaultyStore back = stick.cutPower();

        FaultyStore other = new FaultyStore(15);
        RunLogWriter theirs = RunLogWriter.create(other, "run", anotherHeader(), options(1 << 20));
        theirs.append(Example.boot(0));
        theirs.append(Example.channels(0, 3));
        for (int i = 0; i < 100; i++) {
            theirs.append(Example.sample(0, 1 + i, 1, 2, 3));
        }
        theirs.close(SOON);
        other.create("run.part2.jsonl").close();
        other.create("run.reserve").close();
        List<String> before = other.list();
        long bytes = other.usedBytes();

        path.mount(other);
        long ticket = write(writer, 50);
        untilLost();
        assertThat(writer.awaitDurable(ticket, A_FEW_TRIES)).isFalse();
        assertThat(writer.trouble()).hasValueSatisfying(t -> assertThat(t).contains("not this run's log"));
        assertThat(other.list()).isEqualTo(before);
        assertThat(other.usedBytes()).isEqualTo(bytes);
        assertThat(other.isLocked("run.lock")).isFalse();
        path.mount(back);
        assertThat(end(writer)).isZero();
        assertThat(other.list()).isEqualTo(before);
        whole(back);
    }

    @Test
    void aDiskTurnedReadOnlyIsGoneOnWithWhenItCanBeWrittenAgain() throws Exception {
        FaultyStore stick = new FaultyStore(16);
        RunLogWriter writer = begin(stick, 1 << 20);
        stick.setReadOnly(true);
        long ticket = write(writer, 50);
        untilLost();
        assertThat(writer.awaitDurable(ticket, A_FEW_TRIES)).isFalse();
        assertThat(writer.trouble()).hasValueSatisfying(t -> assertThat(t).contains("read-only"));
        // Only a writer that has given up the file goes on in a further one, and that takes it a few tries.
        until(() -> !stick.isLocked("run.lock"));
        stick.setReadOnly(false);
        assertThat(writer.awaitDurable(ticket, SOON)).isTrue();
        assertThat(stick.isLocked("run.lock")).isTrue();
        assertThat(end(writer)).isZero();
        whole(stick);
        assertThat(stick.list()).isEqualTo(LEFT_AT_THE_END);
    }

    @Test
    void aFullDiskThatGetsRoomAgainIsGoneOnWithInTheSameFile() throws Exception {
        FaultyStore stick = new FaultyStore(17);
        RunLogWriter writer = begin(stick, 1 << 20);
        stick.setRoom(stick.usedBytes() + 150);
        long ticket = write(writer, 100);
        untilLost();
        assertThat(heard.get(0)).as("the reserve goes first").isEqualTo("low");
        assertThat(writer.awaitDurable(ticket, A_FEW_TRIES)).isFalse();
        stick.setRoom(Long.MAX_VALUE);
        assertThat(writer.awaitDurable(ticket, SOON)).isTrue();
        until(() -> stick.list().contains("run.reserve"));
        assertThat(end(writer)).isZero();
        whole(stick);
        assertThat(stick.list()).containsExactly("run.jsonl");
    }

    @Test
    void whatAPulledStickHadConfirmedAndLostIsWrittenAgain() throws Exception {
        for (int lost = 1; lost < 1500; lost += 37) {
            heard.clear();
            handed.clear();
            FaultyStore stick = new FaultyStore(22);
            MountPoint path = new MountPoint(stick);
            RunLogWriter writer = begin(path, 1 << 20);
            for (int i = 0; i < 12; i++) {
                assertThat(writer.awaitDurable(write(writer, 1), SOON)).isTrue();
            }
            FaultyStore back = stick.cutPower();
            back.forget("run.jsonl", lost);
            path.mount(back);
            write(writer, 3);
            assertThat(end(writer)).as("%d bytes", lost).isZero();
            whole(back);
        }
    }

    @Test
    void aStickThatLostMoreThanIsKeptIsNotWrittenTo() throws Exception {
        FaultyStore stick = new FaultyStore(23);
        MountPoint path = new MountPoint(stick);
        RunLogWriter writer = begin(path, 4 << 20);
        assertThat(writer.awaitDurable(write(writer, 5000), SOON)).isTrue();
        FaultyStore back = stick.cutPower();
        back.forget("run.jsonl", 600_000);
        List<String> names = back.list();
        path.mount(back);
        write(writer, 3);
        until(() -> writer.trouble().filter(t -> t.contains("lacks much")).isPresent());
        assertThat(writer.close(A_FEW_TRIES)).isEqualTo(3);
        assertThat(back.list()).isEqualTo(names);
    }

    @Test
    void aStickThatNeverComesBackIsGivenUpOnlyWhenToldTo() throws Exception {
        FaultyStore stick = new FaultyStore(18);
        MountPoint path = new MountPoint(stick);
        RunLogWriter writer = begin(path, 1 << 20);
        FaultyStore back = stick.cutPower();
        path.unmount();
        write(writer, 50);
        assertThat(writer.finish(A_FEW_TRIES)).isEqualTo(50);
        assertThat(writer.finish(A_FEW_TRIES)).isEqualTo(50);
        assertThat(writer.close(A_FEW_TRIES)).isEqualTo(50);
        assertThat(writer.position().records()).isEqualTo(3);
        Collector found = new Collector();
        new LogScan(back, "run.jsonl", found).run();
        assertThat(found.damages).isEmpty();
        assertThat(found.records).isEqualTo(handed.subList(0, 3));
    }

    @Test
    void aStickThatComesBackAfterTheRunsEndStillGetsItAll() throws Exception {
        FaultyStore stick = new FaultyStore(19);
        MountPoint path = new MountPoint(stick);
        RunLogWriter writer = begin(path, 1 << 20);
        FaultyStore back = stick.cutPower();
        path.unmount();
        write(writer, 50);
        writer.append(Example.close(0, 9, next));
        handed.add(Example.close(0, 9, next));
        assertThat(writer.finish(A_FEW_TRIES)).isEqualTo(51);
        path.mount(back);
        assertThat(writer.finish(SOON)).isZero();
        whole(back);
        assertThat(back.list()).isEqualTo(LEFT_AT_THE_END);
    }

    @Test
    void whatTheMemoryCannotHoldIsAGapThatTheLogNames() throws Exception {
        FaultyStore stick = new FaultyStore(20);
        MountPoint path = new MountPoint(stick);
        RunLogWriter writer = begin(path, 3000);
        assertThat(writer.memoryTaken()).isLessThan(0.5);
        FaultyStore back = stick.cutPower();
        path.unmount();
        write(writer, 1);
        untilLost();
        write(writer, 200);
        int kept = handed.size() - 3;
        assertThat(kept).isBetween(10, 100);
        assertThat(writer.memoryTaken()).isGreaterThan(0.9);
        assertThat(writer.memoryLasts(System.nanoTime())).isLessThan(Duration.ofSeconds(1));
        path.mount(back);
        until(() -> writer.memoryTaken() == 0);
        assertThat(end(writer)).isZero();
        Collector found = new Collector();
        new LogScan(back, "run.jsonl", found).run();
        assertThat(found.damages).isEmpty();
        List<Event> gaps = found.records.stream()
                .filter(Event.class::isInstance)
                .map(Event.class::cast)
                .filter(e -> e.kind().equals(EventKind.SAMPLES_DROPPED.word()))
                .toList();
        assertThat(gaps).hasSize(1);
        assertThat(gaps.get(0).number("count")).isEqualTo(201.0 - kept);
        assertThat(gaps.get(0).number("from")).isEqualTo((1000 + kept) / 1000.0);
        assertThat(gaps.get(0).number("to")).isEqualTo(1.2);
        found.records.removeIf(r -> r instanceof Part || r.equals(gaps.get(0)));
        assertThat(found.records).isEqualTo(handed);
    }

    @Test
    void somebodyElsesFurtherPartIsNotOverwritten() throws Exception {
        FaultyStore stick = new FaultyStore(21);
        MountPoint path = new MountPoint(stick);
        RunLogWriter writer = begin(path, 1 << 20);
        FaultyStore back = stick.cutPower();
        path.unmount();
        write(writer, 5);
        untilLost();
        RunLogWriter theirs = RunLogWriter.resume(back, "run", Example::boot, options(1 << 20));
        theirs.close(SOON);
        back.create("run.part2.jsonl").close();
        path.mount(back);
        until(() -> writer.trouble().filter(t -> t.contains("somebody else")).isPresent());
        assertThat(back.list()).doesNotContain("run.part3.jsonl");
        writer.close(A_FEW_TRIES);
    }

    /** Pulled at any moment, also in the middle of going on in a further part. */
    @Test
    void howeverOftenTheStickIsPulledNothingIsLost() throws Exception {
        long base = Long.getLong("seed", 1);
        int parts = 0;
        for (long seed = base; seed < base + 60; seed++) {
            heard.clear();
            handed.clear();
            next = 0;
            Random random = new Random(seed);
            FaultyStore stick = new FaultyStore(seed);
            MountPoint path = new MountPoint(stick);
            RunLogWriter writer = begin(path, 1 << 20);
            int pulls = 1 + random.nextInt(4);
            for (int i = 0; i < pulls; i++) {
                stick.disturb(random.nextDouble() / 2, random.nextDouble() / 4, random.nextDouble() / 10);
                write(writer, random.nextInt(60));
                if (random.nextBoolean()) {
                    Thread.sleep(random.nextInt(4));
                }
                FaultyStore back = stick.cutPower();
                if (random.nextBoolean()) {
                    path.unmount();
                } else if (random.nextBoolean()) {
                    path.mount(new FaultyStore(0));
                }
                write(writer, random.nextInt(30));
                if (random.nextBoolean()) {
                    Thread.sleep(random.nextInt(8));
                }
                stick = back;
                path.mount(back);
            }
            assertThat(end(writer)).as("seed %d", seed).isZero();
            whole(stick);
            assertThat(stick.list()).as("seed %d", seed).allMatch(name -> name.endsWith(".jsonl"));
            parts += stick.list().size() - 1;
        }
        assertThat(parts).isGreaterThan(60);
    }

    /** One call of those while a stick is written to, goes, and comes back; each in turn. */
    @Test
    void anUncheckedExceptionFromAnyCallOfTheDiskCostsNothing() throws Exception {
        int call = 0;
        UncheckedStore disk;
        do {
            call++;
            FaultyStore stick = new FaultyStore(31);
            MountPoint path = new MountPoint(stick);
            disk = new UncheckedStore(path);
            RunLogWriter writer = beginAnew(disk);
            disk.failFrom(call, 1);
            assertThat(writer.awaitDurable(write(writer, 3), SOON)).isTrue();
            stick = stick.cutPower();
            path.mount(stick);
            write(writer, 3);
            assertThat(end(writer)).as("call %d", call).isZero();
            assertThat(writer.defect()).isEmpty();
            whole(stick);
        } while (disk.failed() > 0);
        assertThat(call).as("calls tried").isGreaterThan(20);
    }

    /** As a stick is that was pulled and whose folder is still mounted: it opens, and nothing in it answers. */
    @Test
    void aDiskOfWhichEveryCallThrowsUncheckedForAWhileGetsEverythingAfterwards() throws Exception {
        for (int call = 1; call < 20; call++) {
            FaultyStore stick = new FaultyStore(32);
            UncheckedStore disk = new UncheckedStore(stick);
            RunLogWriter writer = beginAnew(disk);
            disk.failFrom(call, 100);
            until(() -> write(writer, 1) < 0 || disk.failed() == 100);
            assertThat(writer.awaitDurable(write(writer, 3), SOON)).isTrue();
            assertThat(end(writer)).as("from call %d", call).isZero();
            whole(stick);
        }
    }

    @Test
    void aLogThatCannotBeBegunOrGoneOnWithIsAMessageWhateverTheDiskThrows() throws Exception {
        int call = 0;
        UncheckedStore disk;
        int said = 0;
        do {
            call++;
            FaultyStore stick = new FaultyStore(33);
            disk = new UncheckedStore(stick);
            disk.failFrom(call, 1000);
            try {
                RunLogWriter.create(disk, "run", Example.header(), options(1 << 20))
                        .close(A_FEW_TRIES);
            } catch (IOException e) {
                said++;
                assertThat(e).hasMessageMatching("(?s).{10,}");
            }
            stick = new FaultyStore(34);
            beginAnew(stick).close(SOON);
            disk = new UncheckedStore(stick);
            disk.failFrom(call, 1000);
            try {
                RunLogWriter.resume(disk, "run", Example::boot, options(1 << 20))
                        .close(A_FEW_TRIES);
            } catch (IOException e) {
                said++;
            }
        } while (call < 15);
        assertThat(said).isGreaterThan(15);
    }

    @Test
    void aListenerThatFailsDoesNotEndTheWriter() throws Exception {
        FaultyStore stick = new FaultyStore(35);
        MountPoint path = new MountPoint(stick);
        WriterListener failing = new WriterListener() {
            @Override
            public void storageLost(String detail) {
                heard.add("lost");
                throw new IllegalArgumentException("too long a text");
            }

            @Override
            public void partBegun(int part, String why) {
                throw new AssertionError("planted");
            }

            @Override
            public void storageBack(Duration lost) {
                throw new IllegalStateException("planted");
            }
        };
        WriterOptions options = new WriterOptions(
                1 << 20, 1 << 20, 4096, Duration.ofSeconds(30), Duration.ofMillis(2), System::nanoTime, failing);
        RunLogWriter writer = begin(path, options);
        FaultyStore back = stick.cutPower();
        path.unmount();
        write(writer, 20);
        untilLost();
        path.mount(back);
        assertThat(end(writer)).isZero();
        whole(back);
    }

    /** A clock that fails stands for any defect of the writer's own: nothing of the disk can bring this about. */
    @Test
    void aWriterThatFailsItselfSaysSoAndNobodyWaitsForIt() throws Exception {
        AtomicBoolean broken = new AtomicBoolean();
        WriterOptions options = new WriterOptions(
                1 << 20, 1 << 20, 4096, Duration.ofSeconds(30), Duration.ofMillis(2), () -> tick(broken), listener);
        RunLogWriter writer = begin(new FaultyStore(36), options);
        assertThat(writer.defect()).isEmpty();
        Thread.UncaughtExceptionHandler shown = Thread.getDefaultUncaughtExceptionHandler();
        List<Throwable> stacks = new CopyOnWriteArrayList<>();
        Thread.setDefaultUncaughtExceptionHandler((thread, e) -> stacks.add(e));
        try {
            long ticket = write(writer, 1);
            broken.set(true);
            until(() -> writer.defect().isPresent() || write(writer, 1) < 0);
            assertThat(writer.defect())
                    .hasValueSatisfying(why -> assertThat(why).contains("planted"));
            assertThat(ticket).isPositive();
            broken.set(false);
            assertThat(writer.awaitDurable(write(writer, 1), Duration.ofDays(1)))
                    .isFalse();
            assertThat(writer.finish(Duration.ofDays(1))).isPositive();
            until(() -> !stacks.isEmpty());
        } finally {
            Thread.setDefaultUncaughtExceptionHandler(shown);
        }
    }

    /** Fails on the writing thread only. */
    private static long tick(AtomicBoolean broken) {
        if (broken.get() && Thread.currentThread().getName().equals("run log writer")) {
            throw new IllegalStateException("planted");
        }
        return System.nanoTime();
    }

    @Test
    void aFolderThatIsTakenAwayWhileItsFileStaysOpenIsTold(@TempDir Path place) throws Exception {
        Path folder = Files.createDirectory(place.resolve("stick"));
        RunLogWriter writer = begin(LogStore.in(folder), 1 << 20);
        assertThat(writer.awaitDurable(write(writer, 5), SOON)).isTrue();
        Files.move(folder, place.resolve("elsewhere"));
        write(writer, 5);
        untilLost();
        Files.move(place.resolve("elsewhere"), folder);
        assertThat(writer.awaitDurable(write(writer, 5), SOON)).isTrue();
        assertThat(end(writer)).isZero();
        assertThat(heard).contains("back").doesNotContain("low");
        whole(LogStore.in(folder));
    }
}

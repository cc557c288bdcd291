// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.leftover;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.agent.leftover.Leftover.Kind;
import dev.loadwitness.agent.place.WorkNote;
import dev.loadwitness.agent.process.MemoryFolder;
import java.io.IOException;
import java.nio.channels.FileChannel;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.nio.file.StandardOpenOption;
import java.nio.file.attribute.FileTime;
import java.time.Instant;
import java.util.List;
import java.util.Random;
import java.util.stream.Stream;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

final class LeftoversTest {
    private static final Instant NOW = Instant.parse("2026-11-25T14:00:00Z");
    private static final Instant EARLIER = Instant.parse("2026-11-25T12:00:00Z");
    private static final long SELF = 77;
    private static final String RUN = "b8cfc0e900f22754472a6029446e4ca7";
    private static final String HEADER =
            "{\"n\":0,\"type\":\"header\",\"format\":\"loadwitness-run/1.0\",\"run\":\"" + RUN + "\"}\n";

    @TempDir
    private Path root;

    private Path runs;

    @BeforeEach
    void emptyMachine() throws IOException {
        runs = Files.createDirectories(root.resolve("stick/runs"));
        process(SELF, 500);
    }

    private List<Leftover> found() {
        return found(0);
    }

    private List<Leftover> found(long user) {
        return new Leftovers(root, user, SELF, NOW).find(List.of(runs));
    }

    /** Form of the file: proc(5); the program's name may hold anything. */
    private void process(long pid, long start) throws IOException {
        write("proc/" + pid + "/stat", pid + " (ja) va 1) S 1 " + "0 ".repeat(17) + start + " 0 0\n");
    }

    private Path write(String path, String text) throws IOException {
        return write(path, text.getBytes(StandardCharsets.UTF_8));
    }

    private Path write(String path, byte[] bytes) throws IOException {
        Path file = root.resolve(path);
        Files.createDirectories(file.getParent());
        Files.write(file, bytes);
        Files.setLastModifiedTime(file, FileTime.from(EARLIER));
        return file;
    }

    /** As the writer makes it, broken off. */
    private static byte[] reserve() {
        byte[] bytes = new byte[1002];
        new Random(RUN.hashCode()).nextBytes(bytes);
        return bytes;
    }

    private Path copy(String path, String owner) throws IOException {
        Path copy = write(path + "/owner", owner).getParent();
        write(path + "/runtime/bin/java", "x".repeat(1000));
        Files.setLastModifiedTime(copy, FileTime.from(EARLIER));
        return copy;
    }

    private List<String> names() {
        try (Stream<Path> all = Files.walk(root)) {
            return all.filter(Files::isRegularFile)
                    .map(p -> root.relativize(p).toString())
                    .filter(n -> !n.startsWith("proc"))
                    .sorted()
                    .toList();
        } catch (IOException e) {
            throw new java.io.UncheckedIOException(e);
        }
    }

    @Test
    void copiesOfAKilledRunGoWithAllThatIsInThem() throws IOException {
        copy("dev/shm/loadwitness-1000-Ab3dEf7h", "4711 900\n");
        copy("run/user/1000/loadwitness-1000-xyz", "4712 900\n");
        assertThat(found()).extracting(Leftover::kind).containsExactlyInAnyOrder(Kind.MEMORY_COPY, Kind.MEMORY_COPY);
        assertThat(found().get(0).bytes()).isBetween(1000L, 1100L);
        for (Leftover leftover : found()) {
            Leftovers.remove(leftover);
        }
        assertThat(found()).isEmpty();
        assertThat(names()).isEmpty();
    }

    @Test
    void copyThatAProcessRunsFromStays() throws IOException {
        copy("dev/shm/loadwitness-0-alive", "4711 900\n");
        process(4711, 900);
        assertThat(found()).hasSize(1);
        assertThat(found().get(0).mayGo()).isFalse();
        assertThat(found().get(0).kept()).contains("4711");
        assertThatThrownBy(() -> Leftovers.remove(found().get(0))).isInstanceOf(IllegalArgumentException.class);
        assertThat(names()).hasSize(2);
    }

    @Test
    void laterProcessWithTheSameNumberDoesNotKeepACopy() throws IOException {
        copy("dev/shm/loadwitness-0-old", "4711 900\n");
        process(4711, 123_456);
        assertThat(found().get(0).mayGo()).isTrue();
    }

    @Test
    void ownCopyIsNoLeftover() throws IOException {
        copy("dev/shm/loadwitness-0-self", SELF + " 500\n");
        assertThat(found()).isEmpty();
    }

    @Test
    void copyThatIsBeingMadeStays() throws IOException {
        Path copy = Files.createDirectories(root.resolve("tmp/loadwitness-0-new"));
        Files.setLastModifiedTime(copy, FileTime.from(NOW.minusSeconds(5)));
        assertThat(found().get(0).mayGo()).isFalse();
        Files.setLastModifiedTime(copy, FileTime.from(NOW.minusSeconds(600)));
        assertThat(found().get(0).mayGo()).isTrue();
    }

    @Test
    void linksAndOtherNamesAreNotOurs() throws IOException {
        write("home/owner/photos/cat.jpg", "meow");
        write("home/owner/photos/owner", "4711 900\n");
        Files.createDirectories(root.resolve("dev/shm"));
        Files.createSymbolicLink(root.resolve("dev/shm/loadwitness-0-link"), root.resolve("home/owner/photos"));
        copy("dev/shm/loadwitness-notes", "4711 900\n");
        assertThat(found()).isEmpty();
        // A link inside a copy goes itself; what it leads to stays.
        Path copy = copy("tmp/loadwitness-0-real", "4711 900\n");
        Files.createSymbolicLink(copy.resolve("runtime/photos"), root.resolve("home/owner/photos"));
        Leftovers.remove(found().get(0));
        assertThat(copy).doesNotExist();
        assertThat(root.resolve("home/owner/photos/cat.jpg")).exists();
    }

    @Test
    void anotherUsersFilesAreLeftAlone() throws IOException {
        copy("dev/shm/loadwitness-1000-theirs", "4711 900\n");
        long me = ((Number) Files.getAttribute(root, "unix:uid")).longValue();
        assertThat(found(me == 0 ? 12_345 : me + 1)).isEmpty();
    }

    @Test
    void locksAndReservesGoAndLogsStay() throws IOException {
        write("stick/runs/T/20261125T100000Z/run.jsonl", HEADER);
        write(
                "stick/runs/T/20261125T100000Z/run.part2.jsonl",
                "{}\n{\"n\":7,\"type\":\"close\",\"reason\":\"completed\"}\n");
        write("stick/runs/T/20261125T100000Z/run.lock", "");
        write("stick/runs/T/20261125T100000Z/run.reserve", reserve());
        write("stick/runs/T/run.reserve", "no log beside it: not known to be ours");
        for (Leftover leftover : found()) {
            Leftovers.remove(leftover);
        }
        assertThat(names())
                .containsExactly(
                        "stick/runs/T/20261125T100000Z/run.jsonl",
                        "stick/runs/T/20261125T100000Z/run.part2.jsonl",
                        "stick/runs/T/run.reserve");
    }

    @Test
    void runThatCanStillBeResumedKeepsItsReserve() throws IOException {
        write(
                "stick/runs/T/1/run.jsonl",
                HEADER + "{\"n\":7,\"type\":\"sample\",\"note\":\"no close\"}\n{\"n\":8,\"ty");
        write("stick/runs/T/1/run.lock", "");
        write("stick/runs/T/1/run.reserve", reserve());
        assertThat(found())
                .filteredOn(Leftover::mayGo)
                .extracting(l -> l.path().getFileName().toString())
                .containsExactly("run.lock");
        assertThat(found())
                .filteredOn(l -> !l.mayGo())
                .singleElement()
                .satisfies(l -> assertThat(l.kept()).contains("resume it"));
    }

    @Test
    void logThatIsBeingWrittenKeepsItsLock() throws IOException {
        write("stick/runs/T/1/run.jsonl", HEADER);
        Path lock = write("stick/runs/T/1/run.lock", "");
        try (FileChannel channel = FileChannel.open(lock, StandardOpenOption.WRITE);
                var held = channel.lock()) {
            assertThat(held.isValid()).isTrue();
            assertThat(found()).hasSize(1).noneMatch(Leftover::mayGo);
        }
        assertThat(found()).hasSize(1).allMatch(Leftover::mayGo);
    }

    @Test
    void measurementThatBrokeOffGoesAndNothingElseOfThatName() throws IOException {
        String record = String.format(
                "%-499s%n",
                "The Loadwitness agent measured with this file how quick its disk is, and was killed. Remove it.");
        write("stick/runs/loadwitness-probe123.tmp", record + record.substring(0, 200));
        write("stick/runs/loadwitness-probe.txt", record);
        write("tmp/loadwitness-probe9.tmp", "");
        write("tmp/loadwitness-probe10.tmp", "my own words");
        assertThat(found())
                .extracting(l -> l.path().getFileName().toString())
                .containsExactly("loadwitness-probe9.tmp", "loadwitness-probe123.tmp");
        assertThat(found()).extracting(Leftover::kind).containsOnly(Kind.MEASUREMENT);
    }

    @Test
    void aFolderOfThatNameThatHoldsSomethingElseIsNoCopyOfOurs() throws IOException {
        copy("dev/shm/loadwitness-0-photos", "4711 900\n");
        write("dev/shm/loadwitness-0-photos/cat.jpg", "meow");
        assertThat(found()).isEmpty();
    }

    @Test
    void lockAndReserveThatHoldSomethingElseStay() throws IOException {
        write("stick/runs/T/1/run.jsonl", HEADER + "{\"n\":7,\"type\":\"close\",\"reason\":\"completed\"}\n");
        write("stick/runs/T/1/run.lock", "my own words");
        write("stick/runs/T/1/run.reserve", "my own words");
        assertThat(found())
                .hasSize(2)
                .noneMatch(Leftover::mayGo)
                .allMatch(l -> l.kept().contains("does not hold what this program writes"));
    }

    @Test
    void withoutALogBesideThemNoLockAndNoReserveIsOurs() throws IOException {
        write("stick/runs/T/1/run.jsonl", "{}\n");
        write("stick/runs/T/1/run.lock", "");
        assertThat(found()).isEmpty();
    }

    @Test
    void copyThatWasBrokenOffGoes() throws IOException {
        String name = "stick/runs/T/1/.loadwitness-" + "0123456789abcdef".repeat(2) + ".new";
        write(name, "{\"n\":0,\"type");
        write(name.replace("0123", "4567"), "<html>");
        assertThat(found()).singleElement().satisfies(l -> {
            assertThat(l.kind()).isEqualTo(Kind.UNFINISHED_COPY);
            assertThat(l.path()).isEqualTo(root.resolve(name));
            assertThat(l.mayGo()).isTrue();
        });
    }

    @Test
    void logOnTheInternalDiskStaysUntilTheStickHasTheSameBytes() throws IOException {
        Path work = write("home/bench/1/run.jsonl", "{\"n\":0}\n").getParent();
        write("home/bench/1/run.reserve", "xxx");
        Path out = Files.createDirectories(root.resolve("stick/runs/T/1"));
        WorkNote.fresh(work).write(work, out);
        assertThat(found()).extracting(Leftover::kind).containsExactly(Kind.WORK_FOLDER);
        assertThat(found().get(0).mayGo()).isFalse();

        write("stick/runs/T/1/run.jsonl", "{\"n\":1}\n");
        assertThat(found().get(0).mayGo()).as("another log").isFalse();
        write("stick/runs/T/1/run.jsonl", "{\"n\":0}\n");
        assertThat(found().get(0).mayGo()).isTrue();
        write("home/bench/1/diary.txt", "not ours");
        assertThat(found().get(0).mayGo()).as("something else in it").isFalse();
        Files.delete(work.resolve("diary.txt"));
        Leftovers.remove(found().get(0));
        assertThat(work).doesNotExist();
        assertThat(root.resolve("stick/runs/T/1/run.jsonl")).exists();
    }

    @Test
    void aNoteThatSomebodyWroteOnTheStickIsNotObeyed() throws IOException {
        Path theirs = write("home/owner/run.jsonl", "{\"n\":0}\n").getParent();
        write("stick/runs/T/1/run.jsonl", "{\"n\":0}\n");
        Path note = write("stick/runs/T/1/run.elsewhere", WorkNote.fresh(theirs).text());

        Leftovers look = new Leftovers(root, 0, SELF, NOW);

        assertThat(look.find(List.of(runs))).isEmpty();
        assertThat(look.notLookedInto())
                .singleElement()
                .asString()
                .startsWith(note + " names " + theirs + ", which this program did not make for that run");
    }

    @Test
    void whatTookTheNameOfALeftoverMeanwhileStays() throws IOException {
        Path copy = copy("dev/shm/loadwitness-0-old", "4711 900\n");
        Leftover leftover = found().get(0);
        Files.move(copy, root.resolve("dev/shm/moved"));
        Path other = write("home/owner/photos/cat.jpg", "meow").getParent();
        Files.createSymbolicLink(copy, other);
        assertThatThrownBy(() -> Leftovers.remove(leftover)).hasMessageContaining("something else is there by now");
        Files.delete(copy);
        Files.move(other, copy);
        assertThatThrownBy(() -> Leftovers.remove(leftover)).hasMessageContaining("something else is there by now");
        assertThat(copy.resolve("cat.jpg")).exists();
    }

    @Test
    void programRemovesItsOwnCopyAndNoOther() throws IOException {
        Path own = copy("dev/shm/loadwitness-0-self", SELF + " 500\n");
        Path theirs = copy("dev/shm/loadwitness-0-theirs", "4711 900\n");
        Path named = copy("dev/shm/other", SELF + " 500\n");
        Path link = Files.createSymbolicLink(root.resolve("dev/shm/loadwitness-0-link"), named);
        Path proc = root.resolve("proc");
        assertThat(MemoryFolder.remove(theirs, proc, SELF)).isFalse();
        assertThat(MemoryFolder.remove(named, proc, SELF)).isFalse();
        assertThat(MemoryFolder.remove(link, proc, SELF)).isFalse();
        assertThat(MemoryFolder.remove(root.resolve("dev/shm/loadwitness-0-absent"), proc, SELF))
                .isFalse();
        assertThat(MemoryFolder.remove(own, proc, SELF)).isTrue();
        assertThat(own).doesNotExist();
        assertThat(theirs).exists();
        assertThat(named).exists();
    }
}

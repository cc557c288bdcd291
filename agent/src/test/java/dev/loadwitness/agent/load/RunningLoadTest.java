// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load;

import static org.assertj.core.api.Assertions.assertThat;

import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.util.ArrayList;
import java.util.List;
import java.util.concurrent.TimeUnit;
import java.util.function.BooleanSupplier;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;
import org.junit.jupiter.params.provider.ValueSource;

/** Real worker processes. */
final class RunningLoadTest {
    private static final LoadLauncher LAUNCHER = LoadLauncher.ofThisProgram();

    /** A parent that is there to be killed: starts a load, prints its process number, and waits. */
    static final class Parent {
        private Parent() {}

        public static void main(String[] args) throws IOException, InterruptedException {
            RunningLoad load = LAUNCHER.cpu();
            System.out.println(load.pid());
            for (int second = 0; second < 120; second++) {
                load.check(System.nanoTime());
                Thread.sleep(1000);
            }
            load.close();
        }
    }

    private static void await(String what, Duration limit, BooleanSupplier condition) throws InterruptedException {
        long end = System.nanoTime() + limit.toNanos();
        while (!condition.getAsBoolean()) {
            if (System.nanoTime() > end) {
                throw new AssertionError("after " + limit + " still not: " + what);
            }
            Thread.sleep(50);
        }
    }

    /** A worker whose parent stands still stays behind as a zombie, which does no work. */
    private static boolean alive(long pid) {
        try {
            String stat = Files.readString(Path.of("/proc", Long.toString(pid), "stat"));
            return stat.charAt(stat.lastIndexOf(')') + 2) != 'Z';
        } catch (IOException e) {
            return false;
        }
    }

    private static void signal(String name, long pid) throws IOException, InterruptedException {
        assertThat(new ProcessBuilder("kill", "-" + name, Long.toString(pid))
                        .start()
                        .waitFor())
                .isZero();
    }

    @Test
    void aLoadVerifiesWorkAndIsGoneWhenClosed() throws IOException, InterruptedException {
        RunningLoad load = LAUNCHER.cpu();
        await(
                "ready",
                Duration.ofSeconds(20),
                () -> load.check(System.nanoTime()).isEmpty() && load.isReady());
        long before = load.progress().verified();
        await("more work", Duration.ofSeconds(10), () -> load.progress().verified() > before);
        assertThat(load.progress().errors()).isZero();
        load.close();
        assertThat(alive(load.pid())).isFalse();
        assertThat(load.check(System.nanoTime())).isEmpty();
    }

    @Test
    void aPlantedMiscomputationIsCaughtAndNotCounted() throws IOException, InterruptedException {
        try (RunningLoad load = LAUNCHER.cpu()) {
            await(
                    "ready",
                    Duration.ofSeconds(20),
                    () -> load.check(System.nanoTime()).isEmpty() && load.isReady());
            assertThat(load.plantCaught()).isFalse();
            load.plantFault();
            await("planted fault caught", Duration.ofSeconds(20), load::plantCaught);
            assertThat(load.progress().errors()).isZero();
        }
    }

    @Test
    void aPlantedMemoryFaultIsCaughtAndNotCounted() throws IOException, InterruptedException {
        try (RunningLoad load = LAUNCHER.memory(0.01)) {
            await(
                    "ready",
                    Duration.ofSeconds(20),
                    () -> load.check(System.nanoTime()).isEmpty() && load.isReady());
            load.plantFault();
            await(
                    "planted fault caught",
                    Duration.ofSeconds(30),
                    () -> load.check(System.nanoTime()).isEmpty() && load.plantCaught());
            assertThat(load.progress().errors()).isZero();
        }
    }

    @Test
    void aWorkerThatIsKilledIsReportedAsDiedOnce() throws IOException, InterruptedException {
        try (RunningLoad load = LAUNCHER.cpu()) {
            await(
                    "ready",
                    Duration.ofSeconds(20),
                    () -> load.check(System.nanoTime()).isEmpty() && load.isReady());
            signal("KILL", load.pid());
            await("gone", Duration.ofSeconds(5), () -> !alive(load.pid()));
            Thread.sleep(100);
            assertThat(load.check(System.nanoTime())).singleElement().isInstanceOf(LoadFact.Died.class);
            assertThat(load.check(System.nanoTime())).isEmpty();
        }
    }

    @Test
    void aWorkerThatStandsStillIsReportedAsStalled() throws IOException, InterruptedException {
        try (RunningLoad load = LAUNCHER.cpu()) {
            await(
                    "ready",
                    Duration.ofSeconds(20),
                    () -> load.check(System.nanoTime()).isEmpty() && load.isReady());
            signal("STOP", load.pid());
            Thread.sleep(500);
            long later = System.nanoTime() + TimeUnit.SECONDS.toNanos(11);
            List<LoadFact> facts = load.check(later);
            signal("CONT", load.pid());
            assertThat(facts).singleElement().isInstanceOf(LoadFact.Stalled.class);
        }
    }

    /** Says on and on that it works; the count grows or stands. */
    private static RunningLoad talker(String count) throws IOException {
        String script = "echo ready; i=0; while read -t 0.1 l; [ \"$l\" != stop ]; do i=$((i+1)); echo progress 1 "
                + count + " 0; done";
        return new RunningLoad(new ProcessBuilder("bash", "-c", script).start(), Duration.ofSeconds(1));
    }

    @Test
    void aWorkerThatTalksOnWithoutDoingWorkIsReportedAsStalledOnce() throws IOException, InterruptedException {
        try (RunningLoad load = talker("7")) {
            await("ready", Duration.ofSeconds(10), load::isReady);
            List<LoadFact> facts = new ArrayList<>();
            await("stalled", Duration.ofSeconds(10), () -> facts.addAll(load.check(System.nanoTime())));
            assertThat(facts).singleElement().isInstanceOfSatisfying(LoadFact.Stalled.class, s -> {
                assertThat(s.since()).isBetween(Duration.ofSeconds(1), Duration.ofSeconds(5));
                assertThat(s.detail()).contains("no work is done").contains("verified=7");
            });
            assertThat(load.check(System.nanoTime())).isEmpty();
        }
    }

    @Test
    void aWorkerWhoseCountGrowsIsNotStalled() throws IOException, InterruptedException {
        try (RunningLoad load = talker("$i")) {
            await("ready", Duration.ofSeconds(10), load::isReady);
            await("work", Duration.ofSeconds(20), () -> load.progress().verified() > 20);
            assertThat(load.check(System.nanoTime())).isEmpty();
        }
    }

    /** Says what the script says, and would then stay. */
    private static RunningLoad sayer(String script) throws IOException {
        return new RunningLoad(
                new ProcessBuilder("bash", "-c", script + "\nexec sleep 60").start(), Duration.ofMinutes(1));
    }

    private static List<LoadFact> factsUntilItDied(RunningLoad load) throws InterruptedException {
        List<LoadFact> facts = new ArrayList<>();
        await("died; " + facts, Duration.ofSeconds(20), () -> {
            facts.addAll(load.check(System.nanoTime()));
            return facts.stream().anyMatch(LoadFact.Died.class::isInstance);
        });
        return facts;
    }

    @ParameterizedTest
    @ValueSource(
            strings = {
                "progress x",
                "progress 1 2",
                "progress 1 -2 0",
                "progress 1 NaN 0",
                "progress 1 99999999999999999999 0",
                "progress 1 9223372036854775807 0",
                "progress 1 4 0",
                "progress 1 5 0 7",
                "progress 0 6 1",
                "level",
                "level NaN 1",
                "level 1 -1",
                "level 7 0",
                "level 1 Infinity",
                "edges 1 2",
                "edges 1 0.5 NaN 0,1",
                "edges 1 0.5 1 0,x",
                "edges 1 0.5 1 5,3",
                "edges 1 0.5 1 -5,3",
                "tuned watts",
                "tuned watts NaN",
                "tuned watts Infinity chosen all",
                "tuned watts -1 chosen all",
                "tuned volts 1 chosen all",
                "tuned watts 1 perhaps all",
                "ready or not",
                "planted-caught"
            })
    void aLineThatNoWorkerSaysEndsTheLoadWithWordsAndLeavesNothingOfItself(String line)
            throws IOException, InterruptedException {
        try (RunningLoad load = sayer("echo ready; echo progress 1 5 1; echo '" + line + "'")) {
            List<LoadFact> facts = factsUntilItDied(load);
            assertThat(facts)
                    .singleElement()
                    .isInstanceOfSatisfying(
                            LoadFact.Died.class,
                            d -> assertThat(d.detail())
                                    .startsWith(
                                            "the load's process said something that it never says: '" + line + "' (")
                                    .endsWith("; look at the graphics driver, whose code runs in it"));
            assertThat(load.isReady()).isFalse();
            assertThat(load.plantCaught()).isFalse();
            assertThat(load.progress()).isEqualTo(new Progress(1, 5, 1));
            await("gone", Duration.ofSeconds(5), () -> !alive(load.pid()));
            assertThat(load.check(System.nanoTime())).isEmpty();
        }
    }

    @Test
    void whatNobodyKnowsAndWhatWasNotMeasuredIsNoReasonToEnd() throws IOException, InterruptedException {
        try (RunningLoad load =
                sayer("echo warning: no cache; echo; echo tuned rate NaN tried all of it; echo ready")) {
            List<LoadFact> facts = new ArrayList<>();
            await("ready", Duration.ofSeconds(10), load::isReady);
            facts.addAll(load.check(System.nanoTime()));
            assertThat(facts)
                    .singleElement()
                    .isInstanceOfSatisfying(
                            LoadFact.Tuned.class, t -> assertThat(t.detail()).isEqualTo("all of it"));
        }
    }

    @ParameterizedTest
    @ValueSource(
            strings = {
                "yes 'error all is wrong'",
                "yes 'level 1 0'",
                "yes 'warning: no cache'",
                "yes \"edges 1 0.5 1 $(seq -s, 0 200)\"",
                "yes \"note $(seq -s, 0 5000)\""
            })
    void aFloodIsBoundedAndSaidOnce(String flood) throws IOException, InterruptedException {
        try (RunningLoad load = sayer(flood)) {
            Thread.sleep(1500); // nobody looks
            List<LoadFact> facts = factsUntilItDied(load);
            assertThat(facts).hasSizeLessThan(1010);
            assertThat(facts)
                    .filteredOn(LoadFact.Died.class::isInstance)
                    .singleElement()
                    .satisfies(d -> assertThat(((LoadFact.Died) d).detail())
                            .containsAnyOf("more lines than a worker ever says", "more than a worker ever does")
                            .hasSizeLessThan(400));
            await("gone", Duration.ofSeconds(5), () -> !alive(load.pid()));
        }
    }

    @Test
    void aLineWithoutAnEndIsCutAndSaid() throws IOException, InterruptedException {
        try (RunningLoad load = sayer("tr '\\0' 'e' < /dev/zero")) {
            assertThat(factsUntilItDied(load))
                    .singleElement()
                    .isInstanceOfSatisfying(
                            LoadFact.Died.class,
                            d -> assertThat(d.detail())
                                    .contains("'eeee")
                                    .contains("longer than 65536 bytes")
                                    .hasSizeLessThan(400));
            await("gone", Duration.ofSeconds(5), () -> !alive(load.pid()));
        }
    }

    @Test
    void textIsKeptWithinBoundsAndCannotSteerATerminal() throws IOException, InterruptedException {
        try (RunningLoad load = sayer("printf 'error \\033[2J%03000d\\n' 7")) {
            List<LoadFact> facts = new ArrayList<>();
            await("error", Duration.ofSeconds(10), () -> facts.addAll(load.check(System.nanoTime())));
            assertThat(facts)
                    .singleElement()
                    .isInstanceOfSatisfying(
                            LoadFact.Wrong.class,
                            w -> assertThat(w.detail())
                                    .startsWith("⟨U+001B⟩[2J")
                                    .hasSizeLessThan(2100));
        }
    }

    @Test
    void aReadingThatNoPartDrawsIsKeptFromTheWorkerWhoWouldSayItAgain() throws IOException, InterruptedException {
        try (RunningLoad load = sayer("while read -r l; do case \"$l\" in power*) echo error \"$l\";; esac; done")) {
            for (double watts : new double[] {-1, Double.NaN, Double.POSITIVE_INFINITY, 1e300, 7}) {
                load.power(watts);
            }
            List<LoadFact> facts = new ArrayList<>();
            await("told", Duration.ofSeconds(10), () -> facts.addAll(load.check(System.nanoTime())));
            assertThat(facts).containsExactly(new LoadFact.Wrong("power 7.0"));
        }
    }

    @ParameterizedTest
    @CsvSource({
        "exit 0, 'exit status 0: it ended as if it were done, which it never is'",
        "kill -SEGV $$, 'exit status 139: signal 11 ended it'",
        "exit 7, 'exit status 7: it ended by itself'",
        "echo failed no more memory; exit 4, 'exit status 4: no more memory'"
    })
    void anEndIsToldInWords(String script, String words) throws IOException, InterruptedException {
        try (RunningLoad load = sayer(script)) {
            assertThat(factsUntilItDied(load))
                    .singleElement()
                    .isInstanceOfSatisfying(
                            LoadFact.Died.class, d -> assertThat(d.detail()).startsWith(words));
        }
    }

    @Test
    void aLoadThatNobodyLooksAfterEndsByItself() throws IOException, InterruptedException {
        try (RunningLoad load = LAUNCHER.cpu()) {
            await("gone", Duration.ofSeconds(15), () -> !alive(load.pid()));
        }
    }

    @Test
    void aWorkerEndsWhenItsParentIsKilled() throws IOException, InterruptedException {
        Process parent = parent();
        long worker = worker(parent);
        signal("KILL", parent.pid());
        await("worker gone", Duration.ofSeconds(7), () -> !alive(worker));
    }

    @Test
    void aWorkerEndsWhenItsParentStandsStill() throws IOException, InterruptedException {
        Process parent = parent();
        long worker = worker(parent);
        signal("STOP", parent.pid());
        try {
            await("worker gone", Duration.ofSeconds(12), () -> !alive(worker));
        } finally {
            parent.destroyForcibly();
        }
    }

    private static Process parent() throws IOException {
        return new ProcessBuilder(
                        Path.of(System.getProperty("java.home"), "bin", "java").toString(),
                        "-cp",
                        System.getProperty("java.class.path"),
                        Parent.class.getName())
                .redirectError(ProcessBuilder.Redirect.INHERIT)
                .start();
    }

    private static long worker(Process parent) throws IOException {
        long worker = Long.parseLong(parent.inputReader().readLine());
        assertThat(alive(worker)).isTrue();
        return worker;
    }
}

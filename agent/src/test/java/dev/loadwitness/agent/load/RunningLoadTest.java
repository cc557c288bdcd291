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
        String script =
                "echo ready; i=0; while read -t 0 _ || sleep 0.1; do i=$((i+1)); echo progress 1 " + count + " 0; done";
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

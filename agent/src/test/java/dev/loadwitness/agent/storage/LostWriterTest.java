// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.storage;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.agent.Main;
import dev.loadwitness.agent.load.child.WorkerMain;
import dev.loadwitness.runlog.command.Sysexits;
import java.io.ByteArrayOutputStream;
import java.io.IOException;
import java.io.PrintStream;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.Arrays;
import java.util.concurrent.CompletableFuture;
import java.util.concurrent.TimeUnit;
import java.util.function.BooleanSupplier;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.Timeout;
import org.junit.jupiter.api.io.TempDir;

/** A real run whose writer fails, as no disk can make it: by an error that is thrown into its thread. */
@Timeout(120)
class LostWriterTest {
    private static final String PROCEDURE = """
            format: loadwitness-procedure/1
            name: lost-writer
            title: A minute of load that is to end much earlier
            sampling: 200 ms
            stages:
              - id: soak
                loads: [cpu]
                proves: cpu
                duration: 60 s
            safety:
              stop-above: {cpu: 105 Cel, battery: 45 Cel}
              silent-after: 10 s
              adapter-lost: stop
              unguarded: allow
            decision:
              rule: guarded
              guard-factor: 1
            criteria:
              evidence:
                mandatory: yes
                coverage: 90 %
            """;

    private static void until(BooleanSupplier condition) throws InterruptedException {
        while (!condition.getAsBoolean()) {
            Thread.sleep(20); // the whole test has a limit
        }
    }

    private static boolean aLoadIsOn() {
        return ProcessHandle.current()
                .descendants()
                .anyMatch(p -> p.info().arguments().stream()
                        .flatMap(Arrays::stream)
                        .anyMatch(WorkerMain.class.getName()::equals));
    }

    private static boolean says(Path log, String text) {
        try {
            return Files.readString(log, StandardCharsets.UTF_8).contains(text);
        } catch (IOException e) {
            return false; // not begun
        }
    }

    @SuppressWarnings({"deprecation", "removal"}) // there is no other way to make a sound thread fail
    private static void failWriter() throws InterruptedException {
        Thread writer = Thread.getAllStackTraces().keySet().stream()
                .filter(t -> t.getName().equals("run log writer"))
                .findFirst()
                .orElseThrow();
        // While it waits for records: out of a call to the disk even this error would come as trouble with the disk.
        until(() -> writer.getState() == Thread.State.WAITING);
        writer.stop();
    }

    @Test
    void aDeadWriterIsSaidAtOnceTheLoadComesOffAndTheStatusTellsIt(@TempDir Path place) throws Exception {
        Path procedure = Files.writeString(place.resolve("lost-writer.yaml"), PROCEDURE);
        Path out = place.resolve("out");
        Path log = out.resolve("run.jsonl");
        ByteArrayOutputStream said = new ByteArrayOutputStream();
        ByteArrayOutputStream complained = new ByteArrayOutputStream();
        PrintStream outBefore = System.out;
        PrintStream errBefore = System.err;
        CompletableFuture<Integer> status = new CompletableFuture<>();
        try {
            System.setOut(new PrintStream(said, true, StandardCharsets.UTF_8));
            System.setErr(new PrintStream(complained, true, StandardCharsets.UTF_8));
            Thread run = new Thread(
                    () -> status.complete(
                            Main.run("run", "--procedure", procedure.toString(), "--out", out.toString())),
                    "a run");
            run.setDaemon(true);
            run.start();
            until(() -> (says(log, "\"stage-begin\"") && aLoadIsOn()) || status.isDone());
            assertThat(status).isNotDone();
            failWriter();
            // Before the stage is over, and long before a disk that may come back would be given up.
            assertThat(status.get(50, TimeUnit.SECONDS)).isEqualTo(Sysexits.IO);
        } finally {
            System.setOut(outBefore);
            System.setErr(errBefore);
        }
        assertThat(aLoadIsOn()).isFalse();
        String lines = said.toString(StandardCharsets.UTF_8);
        assertThat(lines).contains("LOG LOST NOTHING MORE IS WRITTEN.").doesNotContain("NO LOG DISK");
        assertThat(lines).contains("STOPPED agent-failed: the log can no longer be kept");
        assertThat(complained.toString(StandardCharsets.UTF_8)).contains("LOG LOST. " + log + " ends too early");
        assertThat(says(log, "\"type\":\"close\"")).isFalse();
    }
}

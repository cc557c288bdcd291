// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.arm.windows;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.agent.arm.ArmException;
import dev.loadwitness.agent.arm.ArmedState;
import dev.loadwitness.agent.arm.Program;
import dev.loadwitness.agent.arm.Request;
import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.nio.file.StandardCopyOption;
import java.time.Instant;
import java.util.ArrayList;
import java.util.HashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.ValueSource;

/** In a made-up folder, with a made-up scheduler: Windows' own programs are never called here. */
final class ScheduledStartTest {
    private static final String SID = "S-1-5-21-1004336348-1177238915-682003330-1001";
    private static final String NAME = "C:\\Program Files\\Loadwitness armed";
    private static final int ABSENT = 0x80070002;
    private static final int DENIED = 0x80070005;

    @TempDir
    private Path folder;

    private final TaskCommands commands = new TaskCommands("C:\\Windows");
    private final Scheduler windows = new Scheduler();
    private Path root;
    private Program program;
    private ScheduledStart start;

    /** Keeps one task, as Windows would, and gives the answers that a test wants instead. */
    private final class Scheduler implements CommandRunner {
        final List<List<String>> asked = new ArrayList<>();
        final Map<List<String>, Integer> refused = new HashMap<>();
        boolean registered;

        @Override
        public Answer run(List<String> command) {
            asked.add(command);
            if (refused.containsKey(command)) {
                return new Answer(refused.get(command), "");
            }
            if (command.equals(commands.whoAmI())) {
                return new Answer(0, "\"bench\\okonjo-vale\",\"" + SID + "\"\r\n");
            }
            if (command.equals(commands.create(NAME + "\\task.xml"))) {
                registered = true;
            } else if (command.equals(commands.query())) {
                return new Answer(registered ? 0 : ABSENT, "");
            } else if (command.equals(commands.delete())) {
                int exit = registered ? 0 : ABSENT;
                registered = false;
                return new Answer(exit, "");
            }
            return new Answer(0, "");
        }
    }

    @BeforeEach
    void machine() throws IOException {
        root = Files.createDirectories(folder.resolve("Program Files")).resolve("Loadwitness armed");
        Path stick = Files.createDirectories(folder.resolve("stick"));
        Files.writeString(stick.resolve("it.jar"), "the program");
        Path java = Files.createDirectories(stick.resolve("runtime/bin"));
        Files.writeString(java.resolve("java.exe"), "java");
        program = new Program(
                stick.resolve("it.jar"), stick.resolve("runtime"), true, Optional.empty(), List.of("-Xmx48m"));
        start = new ScheduledStart(root, NAME, "C:\\Windows", windows);
    }

    private Request request() {
        return new Request(
                "0123456789abcdef0123456789abcdef",
                folder.resolve("runs"),
                List.of(),
                Optional.empty(),
                Map.of("make", "Alder Works", "serial", "AWK17-004711"),
                10,
                Instant.parse("2026-12-09T00:00:00Z"));
    }

    @Test
    void armMakesExactlyTheseCommandsInThisOrder() throws Exception {
        start.arm(request(), program);

        assertThat(windows.asked)
                .containsExactly(
                        commands.whoAmI(),
                        commands.query(),
                        commands.protect(NAME),
                        List.of(
                                "C:\\Windows\\System32\\icacls.exe",
                                NAME + "\\var\\lib\\loadwitness",
                                "/grant",
                                "*" + SID + ":(OI)(CI)M"),
                        commands.create(NAME + "\\task.xml"));
    }

    @Test
    void whatIsArmedStartsTheCopyAndNamesTheRun() throws Exception {
        start.arm(request(), program);

        assertThat(root.resolve("program/loadwitness-agent.jar")).hasContent("the program");
        assertThat(root.resolve("program/runtime/bin/java.exe")).hasContent("java");
        assertThat(Files.readString(root.resolve("task.xml"), StandardCharsets.UTF_16))
                .contains("<Command>" + NAME + "\\program\\runtime\\bin\\java.exe</Command>")
                .contains("<Arguments>-Xmx48m -Djna.nosys=true -jar \"" + NAME
                        + "\\program\\loadwitness-agent.jar\" resume --at-boot</Arguments>")
                .contains("<UserId>" + SID + "</UserId>");
        assertThat(ArmedState.read(root).orElseThrow().runId()).isEqualTo("0123456789abcdef0123456789abcdef");
        assertThat(start.isArmed()).isTrue();
        assertThat(start.traces()).containsExactly(root);
    }

    @Test
    void aRefusedCreateLeavesNothingBehindAndSaysWhatToDo() {
        windows.refused.put(commands.create(NAME + "\\task.xml"), DENIED);

        assertThatThrownBy(() -> start.arm(request(), program))
                .isInstanceOfSatisfying(
                        ArmException.class, e -> assertThat(e.kind()).isEqualTo(ArmException.Kind.PERMISSION))
                .hasMessageContaining("as administrator")
                .hasMessageContaining("0x80070005");
        assertThat(root).doesNotExist();
        assertThat(windows.registered).isFalse();
    }

    @Test
    void aFolderThatCannotBeProtectedIsNotFilledAndRegistersNothing() {
        windows.refused.put(commands.protect(NAME), 5);

        assertThatThrownBy(() -> start.arm(request(), program)).hasMessageContaining("icacls");
        assertThat(root).doesNotExist();
        assertThat(windows.asked).doesNotContain(commands.create(NAME + "\\task.xml"));
    }

    @Test
    void aProgramThatCannotBeCopiedLeavesNothingBehind() throws Exception {
        Files.delete(program.jar());

        assertThatThrownBy(() -> start.arm(request(), program)).isInstanceOf(ArmException.class);
        assertThat(root).doesNotExist();
        assertThat(windows.registered).isFalse();
    }

    @Test
    void aSecondRunIsNotArmedOverTheFirst() throws Exception {
        start.arm(request(), program);

        assertThatThrownBy(() -> start.arm(request(), program)).hasMessageContaining("call 'disarm' first");
        assertThat(start.isArmed()).isTrue();
        assertThat(windows.registered).isTrue();
    }

    @Test
    void checkChangesNothing() throws Exception {
        start.check(folder.resolve("runs"));

        assertThat(windows.asked).containsExactly(commands.whoAmI(), commands.query());
        assertThat(root).doesNotExist();
    }

    @Test
    void disarmRemovesAllAndSaysWhatItWas() throws Exception {
        start.arm(request(), program);

        assertThat(start.disarm()).containsExactly(Path.of("\\LoadwitnessResume"), root);
        assertThat(root).doesNotExist();
        assertThat(windows.registered).isFalse();
        assertThat(start.isArmed()).isFalse();
    }

    @Test
    void disarmWhenNothingIsThereRemovesNothing() throws Exception {
        assertThat(start.disarm()).isEmpty();
        assertThat(windows.asked).containsExactly(commands.query());
    }

    @ParameterizedTest
    @ValueSource(ints = {DENIED, 0x80041315, 1})
    void aTaskThatCannotBeDeletedIsNamedAndItsFilesStay(int exit) throws Exception {
        start.arm(request(), program);
        windows.refused.put(commands.delete(), exit);

        assertThatThrownBy(() -> start.disarm())
                .hasMessageContaining("LoadwitnessResume is left")
                .hasMessageContaining(root.toString());
        assertThat(start.isArmed()).isTrue();
    }

    @Test
    void aRunThatGoesOnFromTheCopyKeepsIt() throws Exception {
        Files.copy(Path.of("/bin/sleep"), program.java().resolve("bin/java.exe"), StandardCopyOption.REPLACE_EXISTING);
        start.arm(request(), program);
        Path copy = root.resolve("program/runtime/bin/java.exe");
        assertThat(copy.toFile().setExecutable(true)).isTrue();
        Process run = new ProcessBuilder(copy.toString(), "60").start();
        try {
            assertThatThrownBy(() -> start.disarm()).hasMessageContaining("a run goes on");
            assertThat(windows.registered).isTrue();
            assertThat(start.isArmed()).isTrue();
        } finally {
            run.destroyForcibly().waitFor();
        }
        assertThat(start.disarm()).hasSize(2);
    }

    @Test
    void theRealRunnerGivesStatusAndOutput() throws Exception {
        CommandRunner.Answer answer = CommandRunner.forReal(List.of("/bin/sh", "-c", "echo told; exit 3"));

        assertThat(answer).isEqualTo(new CommandRunner.Answer(3, "told\n"));
    }
}

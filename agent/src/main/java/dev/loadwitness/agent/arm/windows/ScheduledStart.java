// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.arm.windows;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.agent.arm.ArmException;
import dev.loadwitness.agent.arm.ArmException.Kind;
import dev.loadwitness.agent.arm.ArmedState;
import dev.loadwitness.agent.arm.BootStart;
import dev.loadwitness.agent.arm.Program;
import dev.loadwitness.agent.arm.Request;
import dev.loadwitness.agent.place.Trees;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.LinkOption;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.stream.Stream;

/**
 * Installs and removes the start at boot as a scheduled task, with a copy of the program that only administrators can
 * change. Never run on Windows.
 */
public final class ScheduledStart implements BootStart {
    private final Path root;
    private final String name;
    private final TaskCommands commands;
    private final CommandRunner runner;

    /**
     * On this machine.
     *
     * @param root folder of its own for all that is installed, below {@code C:\\Program Files}; absent while nothing is
     * @param systemRoot as {@code C:\\Windows}
     */
    public ScheduledStart(Path root, String systemRoot) {
        this(root, root.toString(), systemRoot, CommandRunner::forReal);
    }

    /** @param name of {@code root} as Windows knows it, which differs where there is no Windows */
    ScheduledStart(Path root, String name, String systemRoot, CommandRunner runner) {
        this.root = requireNonNull(root, "root");
        this.name = requireNonNull(name, "name");
        this.commands = new TaskCommands(systemRoot);
        this.runner = requireNonNull(runner, "runner");
    }

    @Override
    public void checkMachine() throws ArmException {
        user();
    }

    /** Not told before: whether the person's lower rights suffice to write in the log's folder. */
    @Override
    public void check(Path folder) throws ArmException {
        checkMachine();
    }

    /** Who arms, after all that can be told without changing anything. */
    private String user() throws ArmException {
        Path above = root.getParent();
        if (!Files.isWritable(above)) {
            throw new ArmException(
                    Kind.PERMISSION,
                    above + " cannot be written to: open a command prompt as administrator, and call it from there");
        }
        CommandRunner.Answer answer = ask(commands.whoAmI());
        String sid = TaskAnswer.userSid(answer.output())
                .filter(s -> answer.exit() == 0)
                .orElseThrow(() -> new ArmException(
                        Kind.SYSTEM,
                        "Windows does not say who you are (whoami, status " + TaskAnswer.number(answer.exit())
                                + "), so that nothing can be armed; call 'loadwitness-agent resume DIR' yourself"
                                + " after an interruption"));
        if (isRegistered() || !traces().isEmpty()) {
            throw new ArmException(
                    Kind.PLACE, "a run is armed on this machine already, or left something of it: call 'disarm' first");
        }
        return sid;
    }

    @Override
    public void arm(Request request) throws ArmException {
        arm(request, Program.ofThisProcess());
    }

    void arm(Request request, Program program) throws ArmException {
        String sid = user();
        try {
            install(request, program, sid);
        } catch (ArmException e) {
            throw new ArmException(e.kind(), "cannot be armed: " + e.getMessage() + takenBack());
        } catch (IOException | IllegalArgumentException e) {
            throw new ArmException(Kind.PLACE, "cannot be armed: " + e.getMessage() + takenBack());
        }
    }

    private String takenBack() {
        try {
            removeAll();
            return "";
        } catch (ArmException e) {
            return "; what was installed could not be removed: " + e.getMessage();
        }
    }

    private void install(Request request, Program program, String sid) throws IOException, ArmException {
        Files.createDirectory(root);
        // While it is empty, so that nobody else can change what comes into it.
        protect(commands.protect(name));
        Path copy = Files.createDirectory(root.resolve("program"));
        Path jar = copy.resolve("loadwitness-agent.jar");
        Files.copy(program.jar(), jar);
        // The system's Java too: it may lie where anybody can change it.
        Path runtime = copy.resolve("runtime");
        copyTree(program.java(), runtime);
        List<String> arguments = new ArrayList<>(program.flags());
        if (program.natives().isPresent()) {
            copyTree(program.natives().get(), copy.resolve("native"));
            arguments.add("-Djna.boot.library.path=" + named(copy.resolve("native")));
            arguments.add("-Djna.nounpack=true");
        }
        arguments.addAll(List.of("-Djna.nosys=true", "-jar", named(jar), "resume", "--at-boot"));
        Path definition = root.resolve("task.xml");
        String java = named(runtime.resolve("bin").resolve("java.exe"));
        Files.write(definition, new BootTask(sid, java, arguments, name, request.expires()).file());
        Path counted = Files.createDirectories(ArmedState.file(root).getParent());
        protect(commands.letChange(named(counted), sid));
        request.state(root).write(root);
        // The last of all: without it nothing starts.
        int exit = ask(commands.create(named(definition))).exit();
        if (TaskAnswer.of(exit) != TaskAnswer.DONE) {
            throw refused(exit);
        }
    }

    private void protect(List<String> command) throws ArmException {
        int exit = ask(command).exit();
        if (exit != 0) {
            throw new ArmException(
                    Kind.PERMISSION,
                    "icacls cannot set who may change " + command.get(1) + " (status " + TaskAnswer.number(exit)
                            + "): open a command prompt as administrator; the disk must be NTFS");
        }
    }

    private static void copyTree(Path from, Path to) throws IOException {
        try (Stream<Path> all = Files.walk(from)) {
            for (Path path : (Iterable<Path>) all::iterator) {
                Path target = to.resolve(from.relativize(path).toString());
                if (Files.isDirectory(path)) {
                    Files.createDirectories(target);
                } else {
                    Files.copy(path, target);
                }
            }
        }
    }

    private String named(Path inside) {
        return name + "\\" + root.relativize(inside).toString().replace('/', '\\');
    }

    private CommandRunner.Answer ask(List<String> command) throws ArmException {
        try {
            return runner.run(command);
        } catch (IOException e) {
            throw new ArmException(
                    Kind.SYSTEM,
                    command.get(0) + " cannot be called (" + e.getMessage()
                            + "), which an armed start needs; call 'loadwitness-agent resume DIR' yourself after an"
                            + " interruption");
        }
    }

    private boolean isRegistered() throws ArmException {
        int exit = ask(commands.query()).exit();
        return switch (TaskAnswer.of(exit)) {
            case DONE -> true;
            case ABSENT -> false;
            default -> throw refused(exit);
        };
    }

    private static ArmException refused(int exit) {
        TaskAnswer answer = TaskAnswer.of(exit);
        return new ArmException(
                answer == TaskAnswer.DENIED ? Kind.PERMISSION : Kind.SYSTEM,
                answer.text() + " (schtasks, status " + TaskAnswer.number(exit) + ")");
    }

    @Override
    public boolean isArmed() {
        return Files.exists(ArmedState.file(root));
    }

    /** Without the task itself, which only the scheduler knows of. */
    @Override
    public List<Path> traces() {
        return Files.exists(root, LinkOption.NOFOLLOW_LINKS) ? List.of(root) : List.of();
    }

    @Override
    public List<Path> disarm() throws ArmException {
        List<Path> removed = new ArrayList<>();
        if (isRegistered()) {
            removed.add(Path.of("\\" + BootTask.NAME)); // as the scheduler writes a task in its root folder
        }
        removed.addAll(traces());
        if (removed.isEmpty()) {
            return List.of();
        }
        // Windows keeps the files of a program that runs: better to touch nothing than to remove a half.
        if (isActive()) {
            throw new ArmException(
                    Kind.SYSTEM, "a run goes on from " + root + " at this moment: end it first, then call 'disarm'");
        }
        removeAll();
        return List.copyOf(removed);
    }

    private boolean isActive() {
        Path copy = root.resolve("program");
        return ProcessHandle.allProcesses()
                .flatMap(p -> p.info().command().stream())
                .anyMatch(command -> Path.of(command).startsWith(copy));
    }

    /** The task first: whatever is still there then is started by nothing. */
    private void removeAll() throws ArmException {
        int exit = ask(commands.delete()).exit();
        TaskAnswer answer = TaskAnswer.of(exit);
        if (answer != TaskAnswer.DONE && answer != TaskAnswer.ABSENT) {
            ArmException why = refused(exit);
            throw new ArmException(
                    why.kind(),
                    "the task " + BootTask.NAME + " is left" + (traces().isEmpty() ? "" : ", and with it " + root)
                            + ": " + why.getMessage());
        }
        try {
            ArmedState.remove(root);
            if (Files.isSymbolicLink(root)) {
                Files.delete(root);
            } else if (Files.exists(root)) {
                Trees.remove(root);
            }
        } catch (IOException e) {
            throw new ArmException(
                    Kind.PLACE,
                    "the task is removed, but " + root + " is left: " + e.getMessage()
                            + "; close what uses it and call 'disarm' again as administrator");
        }
    }

    /** Not told at once here. */
    @Override
    public boolean isStopping() {
        return false;
    }
}

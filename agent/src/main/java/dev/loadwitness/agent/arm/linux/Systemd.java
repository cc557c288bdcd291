// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.arm.linux;

import static java.nio.file.StandardOpenOption.READ;
import static java.nio.file.StandardOpenOption.WRITE;
import static java.util.Objects.requireNonNull;

import dev.loadwitness.agent.arm.ArmException;
import dev.loadwitness.agent.arm.ArmException.Kind;
import dev.loadwitness.agent.arm.ArmedState;
import dev.loadwitness.agent.arm.BootStart;
import dev.loadwitness.agent.arm.Program;
import dev.loadwitness.agent.arm.Request;
import dev.loadwitness.agent.place.FileSystem;
import dev.loadwitness.agent.place.Ownership;
import dev.loadwitness.agent.place.Trees;
import java.io.BufferedReader;
import java.io.IOException;
import java.io.InputStream;
import java.nio.channels.FileChannel;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.LinkOption;
import java.nio.file.Path;
import java.nio.file.attribute.PosixFilePermissions;
import java.security.MessageDigest;
import java.security.NoSuchAlgorithmException;
import java.util.ArrayList;
import java.util.HexFormat;
import java.util.List;
import java.util.Optional;
import java.util.concurrent.TimeUnit;
import java.util.stream.Stream;

/**
 * Installs and removes the start at boot. The copy of the program can be read by all, since the workers that run from it
 * are nobody's, and changed by root alone.
 */
public final class Systemd implements BootStart {
    private static final String SYSTEMCTL = "/usr/bin/systemctl";
    private static final List<String> TOOLS =
            List.of(SYSTEMCTL, "/bin/sh", "/usr/bin/sha256sum", "/usr/bin/setpriv", "/usr/bin/nsenter");

    private final Path root;

    /** @param root {@code /}, or a made-up tree */
    public Systemd(Path root) {
        this.root = requireNonNull(root, "root");
    }

    @Override
    public void checkMachine() throws ArmException {
        if (Ownership.ownUser().filter(u -> u == 0).isEmpty()) {
            throw new ArmException(Kind.PERMISSION, "only root can arm a start at boot: sudo loadwitness-agent …");
        }
        if (!Files.isDirectory(root.resolve("run/systemd/system"))) {
            throw new ArmException(
                    Kind.SYSTEM,
                    "this system was not started by systemd, so that nothing can be armed; call"
                            + " 'loadwitness-agent resume DIR' yourself after an interruption");
        }
        for (String tool : TOOLS) {
            if (!Files.isExecutable(root.resolve(tool.substring(1)))) {
                throw new ArmException(Kind.SYSTEM, tool + " is missing, which an armed start needs");
            }
        }
    }

    @Override
    public void check(Path folder) throws ArmException {
        checkMachine();
        checkSystem(root.resolve(Unit.FOLDER));
        checkSystem(root.resolve(Unit.FILE));
        checkLog(folder);
    }

    private static void checkSystem(Path place) throws ArmException {
        try {
            FileSystem system = FileSystem.of(place);
            if (system.memory() || system.readOnly()) {
                throw new ArmException(
                        Kind.PLACE,
                        system.folder() + " lies "
                                + (system.memory() ? "in memory" : "on a disk that is mounted read-only")
                                + ": what is installed there is gone after a restart. Use a live system that keeps"
                                + " its changes");
            }
            if (system.withoutOwners()) {
                throw new ArmException(
                        Kind.PLACE,
                        system.folder() + " lies on " + system.word()
                                + ", which has no owners: nothing runs as root from there");
            }
        } catch (IOException e) {
            throw new ArmException(Kind.PLACE, "cannot tell on what disk " + place + " lies: " + e.getMessage());
        }
    }

    private void checkLog(Path folder) throws ArmException {
        for (String emptied : List.of("tmp", "var/tmp", "run", "dev")) {
            if (folder.startsWith(root.resolve(emptied))) {
                throw new ArmException(
                        Kind.PLACE, "what lies in /" + emptied + " does not outlive a restart; choose another --out");
            }
        }
        try {
            FileSystem disk = FileSystem.of(folder);
            if (disk.memory()) {
                throw new ArmException(
                        Kind.PLACE, folder + " lies in memory and does not outlive a restart; choose another --out");
            }
            // Data only: on a disk without owners there are no links that could lead elsewhere, and nothing is
            // executed.
            if (disk.withoutOwners()) {
                return;
            }
        } catch (IOException e) {
            throw new ArmException(Kind.PLACE, "cannot tell on what disk " + folder + " lies: " + e.getMessage());
        }
        Optional<String> changeable = Ownership.changeableByOthers(folder, root);
        if (changeable.isPresent()) {
            throw new ArmException(
                    Kind.PLACE,
                    changeable.get()
                            + ": root would write at boot wherever that is led to. Take a folder that only root"
                            + " can write to, below /srv for example, or one on a FAT or exFAT stick");
        }
    }

    /** Installs all of it, and returns when it is on the disk. */
    @Override
    public void arm(Request request) throws ArmException {
        arm(request, Program.ofThisProcess());
    }

    void arm(Request request, Program program) throws ArmException {
        check(request.folder());
        if (!traces().isEmpty()) {
            throw new ArmException(
                    Kind.PLACE, "a run is armed on this machine already, or left something of it: call 'disarm' first");
        }
        try {
            checkPath(request.folder());
            for (Path path : request.writable()) {
                checkPath(path);
            }
            install(request, program);
        } catch (IOException e) {
            String more = "";
            try {
                removeAll();
            } catch (IOException left) {
                more = "; what was installed could not be removed: " + left.getMessage();
            }
            throw new ArmException(Kind.PLACE, "cannot be armed: " + e.getMessage() + more);
        }
    }

    private static void checkPath(Path path) throws IOException {
        if (path.toString().chars().anyMatch(c -> c < ' ')) {
            throw new IOException("the path " + path + " has a line feed or the like in it; choose another folder");
        }
    }

    private void install(Request request, Program program) throws IOException {
        Path folder = root.resolve(Unit.FOLDER);
        makeFolder(folder);
        Path copy = folder.resolve("program");
        makeFolder(copy);
        copy(program.jar(), copy.resolve("loadwitness-agent.jar"));
        String inside = "/" + Unit.FOLDER + "/program/";
        List<String> command = new ArrayList<>();
        if (program.ownJava()) {
            copyTree(program.java(), copy.resolve("runtime"));
            command.add(inside + "runtime/bin/java");
        } else {
            command.add(program.java().toRealPath().resolve("bin/java").toString());
        }
        command.addAll(program.flags());
        if (program.natives().isPresent()) {
            copyTree(program.natives().get(), copy.resolve("native"));
            command.add("-Djna.boot.library.path=" + inside + "native");
            command.add("-Djna.nounpack=true");
        }
        command.addAll(List.of("-Djna.nosys=true", "-jar", inside + "loadwitness-agent.jar", "resume", "--at-boot"));
        Path list = folder.resolve(Unit.LIST);
        write(list, digests(folder, copy), "rw-r--r--");
        boolean foreign = Stream.concat(Stream.of(request.folder()), request.writable().stream())
                .anyMatch(p -> Ownership.notOf(0, p).isPresent());
        List<Path> writable = Stream.concat(Stream.of(request.folder()), request.writable().stream())
                .distinct()
                .toList();
        makeFolder(root.resolve(Unit.FILE).getParent());
        write(root.resolve(Unit.FILE), Unit.text(command, sha256(list), writable, foreign), "rw-r--r--");
        // The last of all: without it the unit does nothing.
        request.state(root).write(root);
        Path wanted = root.resolve(Unit.WANTED);
        makeFolder(wanted.getParent());
        Files.createSymbolicLink(wanted, Path.of("/").resolve(Unit.FILE));
        force(wanted.getParent());
        reload();
    }

    private static void makeFolder(Path folder) throws IOException {
        Files.createDirectories(
                folder, PosixFilePermissions.asFileAttribute(PosixFilePermissions.fromString("rwxr-xr-x")));
        force(folder.getParent());
    }

    private static void copyTree(Path from, Path to) throws IOException {
        try (Stream<Path> all = Files.walk(from)) {
            for (Path path : (Iterable<Path>) all::iterator) {
                Path target = to.resolve(from.relativize(path).toString());
                if (Files.isDirectory(path)) {
                    makeFolder(target);
                } else {
                    copy(path, target);
                }
            }
        }
    }

    private static void copy(Path from, Path to) throws IOException {
        Files.copy(from, to);
        // On a stick without owners all files are executable, or none.
        boolean executable = to.getParent().endsWith("bin") || to.endsWith("jspawnhelper");
        Files.setPosixFilePermissions(to, PosixFilePermissions.fromString(executable ? "rwxr-xr-x" : "rw-r--r--"));
        try (FileChannel channel = FileChannel.open(to, WRITE)) {
            channel.force(true);
        }
    }

    private static String digests(Path folder, Path copy) throws IOException {
        StringBuilder text = new StringBuilder();
        try (Stream<Path> all = Files.walk(copy)) {
            for (Path file : all.filter(Files::isRegularFile).sorted().toList()) {
                text.append(sha256(file))
                        .append("  ")
                        .append(folder.relativize(file))
                        .append('\n');
            }
        }
        return text.toString();
    }

    private static String sha256(Path file) throws IOException {
        try (InputStream in = Files.newInputStream(file)) {
            MessageDigest digest = MessageDigest.getInstance("SHA-256");
            byte[] chunk = new byte[64 << 10];
            for (int count = in.read(chunk); count >= 0; count = in.read(chunk)) {
                digest.update(chunk, 0, count);
            }
            return HexFormat.of().formatHex(digest.digest());
        } catch (NoSuchAlgorithmException e) {
            throw new AssertionError("every Java has SHA-256", e);
        }
    }

    private static void write(Path file, String text, String permissions) throws IOException {
        Files.writeString(file, text, StandardCharsets.UTF_8);
        Files.setPosixFilePermissions(file, PosixFilePermissions.fromString(permissions));
        try (FileChannel channel = FileChannel.open(file, WRITE)) {
            channel.force(true);
        }
        force(file.getParent());
    }

    private static void force(Path folder) throws IOException {
        try (FileChannel channel = FileChannel.open(folder, READ)) {
            channel.force(true);
        }
    }

    /** Whether something is installed that will start. */
    @Override
    public boolean isArmed() {
        return Files.exists(root.resolve(Unit.FOLDER).resolve("state"));
    }

    /** What is installed, if anything, the outermost paths only. */
    @Override
    public List<Path> traces() {
        return Stream.of(Unit.WANTED, Unit.FILE, Unit.FOLDER)
                .map(root::resolve)
                .filter(p -> Files.exists(p, LinkOption.NOFOLLOW_LINKS))
                .toList();
    }

    /**
     * Removes every trace, and says what it was.
     *
     * @throws ArmException if that is not possible, because a run goes on from there for example
     */
    @Override
    public List<Path> disarm() throws ArmException {
        List<Path> traces = traces();
        if (traces.isEmpty()) {
            return traces;
        }
        if (Ownership.ownUser().filter(u -> u == 0).isEmpty()) {
            throw new ArmException(Kind.PERMISSION, "only root can disarm: sudo loadwitness-agent disarm");
        }
        if (isActive()) {
            throw new ArmException(
                    Kind.SYSTEM,
                    "a run goes on from there at this moment: stop it first (systemctl stop " + Unit.NAME
                            + "), which also disarms it");
        }
        try {
            removeAll();
        } catch (IOException e) {
            throw new ArmException(Kind.PLACE, "cannot be removed: " + e.getMessage());
        }
        return traces;
    }

    /** The link first: whatever is still there then is started by nothing. */
    private void removeAll() throws IOException {
        Files.deleteIfExists(root.resolve(Unit.WANTED));
        Files.deleteIfExists(root.resolve(Unit.FILE));
        ArmedState.remove(root);
        Path folder = root.resolve(Unit.FOLDER);
        if (Trees.isFolder(folder)) {
            Trees.remove(folder);
        }
        reload();
    }

    /** A made-up tree has no manager that could be told. */
    private void reload() throws IOException {
        if (isRunningSystem() && systemctl("daemon-reload") != 0) {
            throw new IOException("systemctl daemon-reload failed");
        }
    }

    /** Whether the system is on its way down; false where it does not say so at once. */
    @Override
    public boolean isStopping() {
        if (!isRunningSystem()) {
            return false;
        }
        try {
            Process process = new ProcessBuilder(SYSTEMCTL, "is-system-running")
                    .redirectError(ProcessBuilder.Redirect.DISCARD)
                    .start();
            try (BufferedReader answer = process.inputReader(StandardCharsets.US_ASCII)) {
                if (!process.waitFor(3, TimeUnit.SECONDS)) {
                    process.destroyForcibly();
                    return false;
                }
                return "stopping".equals(answer.readLine());
            }
        } catch (IOException e) {
            return false;
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
            return false;
        }
    }

    private boolean isActive() {
        try {
            return isRunningSystem() && systemctl("is-active", "--quiet", Unit.NAME) == 0;
        } catch (IOException e) {
            return false;
        }
    }

    private boolean isRunningSystem() {
        return root.equals(Path.of("/")) && Files.isDirectory(root.resolve("run/systemd/system"));
    }

    private static int systemctl(String... arguments) throws IOException {
        List<String> command = new ArrayList<>(List.of(SYSTEMCTL));
        command.addAll(List.of(arguments));
        Process process = new ProcessBuilder(command)
                .redirectErrorStream(true)
                .redirectOutput(ProcessBuilder.Redirect.DISCARD)
                .start();
        try {
            if (!process.waitFor(30, TimeUnit.SECONDS)) {
                process.destroyForcibly();
                throw new IOException("systemctl gave no answer within 30 s");
            }
            return process.exitValue();
        } catch (InterruptedException e) {
            process.destroyForcibly();
            Thread.currentThread().interrupt();
            throw new IOException("interrupted while systemctl was asked", e);
        }
    }
}

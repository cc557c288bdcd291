// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.arm.linux;

import static java.nio.charset.StandardCharsets.UTF_8;
import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.agent.arm.ArmException;
import dev.loadwitness.agent.arm.ArmedState;
import dev.loadwitness.agent.arm.Program;
import dev.loadwitness.agent.arm.Request;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.LinkOption;
import java.nio.file.Path;
import java.nio.file.attribute.PosixFilePermissions;
import java.time.Instant;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.stream.Stream;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/** In a made-up tree. Needs root, since what is armed is root's; and systemd-analyze. */
final class SystemdTest {
    @TempDir
    private Path root;

    private Path log;
    private Program program;
    private Systemd systemd;

    @BeforeEach
    void system() throws IOException {
        Files.createDirectories(root.resolve("run/systemd/system"));
        for (String tool :
                List.of("usr/bin/systemctl", "bin/sh", "usr/bin/sha256sum", "usr/bin/setpriv", "usr/bin/nsenter")) {
            Path file = root.resolve(tool);
            Files.createDirectories(file.getParent());
            Files.writeString(file, "");
            Files.setPosixFilePermissions(file, PosixFilePermissions.fromString("rwxr-xr-x"));
        }
        log = Files.createDirectories(root.resolve("srv/runs/with space 50%"));
        Path stick = Files.createDirectories(root.resolve("stick/lib"));
        Files.writeString(stick.resolve("it.jar"), "the program");
        Path java = Files.createDirectories(root.resolve("stick/runtime/bin"));
        Files.writeString(java.resolve("java"), "java");
        Files.writeString(
                Files.createDirectories(root.resolve("stick/runtime/lib")).resolve("modules"), "classes");
        program = new Program(
                stick.resolve("it.jar"), root.resolve("stick/runtime"), true, Optional.empty(), List.of("-Xmx48m"));
        systemd = new Systemd(root);
    }

    private Request request() {
        return request(log);
    }

    private Request request(Path folder) {
        return new Request(
                "0123456789abcdef0123456789abcdef",
                folder,
                List.of(log.getParent()),
                Optional.empty(),
                Map.of("make", "Alder Works", "serial", "AWK17-004711"),
                10,
                Instant.parse("2026-12-09T00:00:00Z"));
    }

    private String unit() throws IOException {
        return Files.readString(root.resolve("etc/systemd/system/loadwitness-resume.service"));
    }

    /** Every file and link below the root that is not there without arming. */
    private List<Path> installed() throws IOException {
        try (Stream<Path> all = Files.walk(root)) {
            return all.filter(p -> p.startsWith(root.resolve("var")) || p.startsWith(root.resolve("etc")))
                    .filter(p -> !Files.isDirectory(p, LinkOption.NOFOLLOW_LINKS))
                    .toList();
        }
    }

    @Test
    void disarmingRemovesEveryTraceOfArming() throws Exception {
        systemd.arm(request(), program);
        assertThat(installed()).hasSizeGreaterThanOrEqualTo(6);
        assertThat(ArmedState.read(root).orElseThrow().folder()).isEqualTo(log);
        assertThat(systemd.disarm()).hasSize(3);
        assertThat(installed()).isEmpty();
        assertThat(root.resolve("var/lib/loadwitness")).doesNotExist();
        assertThat(systemd.traces()).isEmpty();
        assertThat(systemd.disarm()).isEmpty();
    }

    @Test
    void theCopyCanBeReadByWorkersAndChangedByNobodyButRoot() throws Exception {
        // As from a stick without owners, where every file can be written by all.
        Files.setPosixFilePermissions(program.jar(), PosixFilePermissions.fromString("rwxrwxrwx"));
        systemd.arm(request(), program);
        Path folder = root.resolve("var/lib/loadwitness");
        try (Stream<Path> all = Files.walk(folder)) {
            for (Path path : all.toList()) {
                String mode = PosixFilePermissions.toString(Files.getPosixFilePermissions(path));
                assertThat(Files.getAttribute(path, "unix:uid")).isEqualTo(0);
                assertThat(mode).as(path.toString()).matches("....-..-.").doesNotEndWith("w-");
                if (!path.endsWith("state")) {
                    assertThat(mode).as(path.toString()).matches("r..r..r..");
                }
            }
        }
        assertThat(folder.resolve("program/runtime/bin/java")).isExecutable();
    }

    @Test
    void whatIsExecutedIsWhatWasInstalledByteForByte() throws Exception {
        systemd.arm(request(), program);
        String check = unit().lines()
                .filter(l -> l.startsWith("ExecStartPre=/bin/sh -c '"))
                .findFirst()
                .orElseThrow();
        String script = check.substring(check.indexOf('\'') + 1, check.lastIndexOf('\''))
                .replace("/var/lib", root.resolve("var/lib").toString());
        assertThat(shell(script)).isZero();
        Path folder = root.resolve("var/lib/loadwitness");
        for (String file : List.of("program/loadwitness-agent.jar", "program/runtime/lib/modules", "program.sha256")) {
            byte[] before = Files.readAllBytes(folder.resolve(file));
            byte[] after = before.clone();
            after[0] ^= 1;
            Files.write(folder.resolve(file), after);
            assertThat(shell(script)).as(file).isNotZero();
            Files.write(folder.resolve(file), before);
            assertThat(shell(script)).isZero();
        }
    }

    @Test
    void theUnitThatTheRunsEndLeavesRemovesEverything() throws Exception {
        systemd.arm(request(), program);
        String last = unit().lines()
                .filter(l -> l.startsWith("ExecStopPost=+/usr/bin/nsenter --target=1 --mount -- /bin/sh -c '"))
                .findFirst()
                .orElseThrow();
        String script = last.substring(last.indexOf('\'') + 1, last.lastIndexOf('\''))
                .replace("/usr/bin/systemctl", "true")
                .replace("/var/lib", root.resolve("var/lib").toString())
                .replace("/etc/", root.resolve("etc") + "/");
        assertThat(shell(script)).isZero();
        assertThat(installed()).as("still armed").isNotEmpty();
        ArmedState.remove(root);
        assertThat(shell(script)).isZero();
        assertThat(installed()).isEmpty();
    }

    @Test
    void systemdItselfFindsNothingWrongWithTheUnit() throws Exception {
        Path java = Path.of(System.getProperty("java.home"));
        systemd.arm(request(), new Program(program.jar(), java, false, Optional.empty(), List.of("-Xmx48m")));
        Path unit = root.resolve("etc/systemd/system/loadwitness-resume.service");
        Process process = new ProcessBuilder("systemd-analyze", "verify", "--man=no", unit.toString())
                .redirectErrorStream(true)
                .start();
        String said = new String(process.getInputStream().readAllBytes(), UTF_8);
        process.waitFor();
        // Of other units that this machine happens to have it may complain.
        assertThat(said.lines().filter(l -> l.contains("loadwitness"))).isEmpty();
        assertThat(unit())
                .contains("/with space 50%%\"")
                .contains("NoNewPrivileges=yes")
                .contains("PrivateNetwork=yes");
    }

    @Test
    void aMistakeInAUnitIsFoundBySystemd() throws Exception {
        Path bad = Files.writeString(root.resolve("loadwitness-bad.service"), "[Service]\nExecStart=relative/path\n");
        Process process = new ProcessBuilder("systemd-analyze", "verify", "--man=no", bad.toString())
                .redirectErrorStream(true)
                .start();
        assertThat(new String(process.getInputStream().readAllBytes(), UTF_8)).contains("loadwitness-bad");
        process.waitFor();
    }

    @Test
    void aSecondRunIsNotArmedOverTheFirst() throws Exception {
        systemd.arm(request(), program);
        assertThatThrownBy(() -> systemd.arm(request(), program))
                .isInstanceOf(ArmException.class)
                .hasMessageContaining("disarm");
    }

    @Test
    void aSystemWithoutSystemdIsSaidSo() throws Exception {
        Files.delete(root.resolve("run/systemd/system"));
        assertRefused(log, ArmException.Kind.SYSTEM, "not started by systemd");
    }

    @Test
    void aFolderThatOthersCouldPutALinkIntoIsRefused() throws Exception {
        Files.setPosixFilePermissions(log, PosixFilePermissions.fromString("rwxrwxrwx"));
        assertRefused(log, ArmException.Kind.PLACE, "others may write to " + log);
        Files.setPosixFilePermissions(log, PosixFilePermissions.fromString("rwxr-xr-x"));
        Files.setAttribute(log.getParent(), "unix:uid", 12345);
        assertRefused(log, ArmException.Kind.PLACE, "belongs to user 12345");
    }

    @Test
    void aPlaceThatARestartEmptiesIsRefused() throws Exception {
        assertRefused(
                Files.createDirectories(root.resolve("tmp/run")),
                ArmException.Kind.PLACE,
                "does not outlive a restart");
    }

    @Test
    void aLogInMemoryIsRefusedAndOneOnAStickWithoutOwnersIsData() throws Exception {
        Path mount = Files.createDirectories(root.resolve("media/stick"));
        assertThat(shell("mount -t tmpfs tmpfs '" + mount + "'")).isZero();
        try {
            assertRefused(mount, ArmException.Kind.PLACE, "lies in memory");
        } finally {
            shell("umount '" + mount + "'");
        }
        Path image = root.resolve("stick.img");
        assertThat(shell("truncate -s 16M '" + image + "' && mkfs.exfat '" + image + "' && mount.exfat-fuse -o"
                        + " umask=000,uid=1000 $(losetup -f --show '" + image + "') '" + mount + "'"))
                .isZero();
        try {
            systemd.arm(request(mount), program);
            assertThat(unit()).contains("CAP_DAC_OVERRIDE");
        } finally {
            shell("umount '" + mount + "'; losetup -j '" + image + "' | cut -d: -f1 | xargs losetup -d");
        }
    }

    private void assertRefused(Path folder, ArmException.Kind kind, String message) throws IOException {
        assertThatThrownBy(() -> systemd.arm(request(folder), program))
                .isInstanceOfSatisfying(
                        ArmException.class, e -> assertThat(e.kind()).isEqualTo(kind))
                .hasMessageContaining(message);
        assertThat(installed()).isEmpty();
    }

    private static int shell(String script) throws Exception {
        Process process = new ProcessBuilder("/bin/sh", "-c", script)
                .redirectErrorStream(true)
                .redirectOutput(ProcessBuilder.Redirect.DISCARD)
                .start();
        return process.waitFor();
    }
}

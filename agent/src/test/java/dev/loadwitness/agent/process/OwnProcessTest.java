// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.process;

import static org.assertj.core.api.Assertions.assertThat;

import com.sun.jna.Native;
import dev.loadwitness.runlog.disk.Self;
import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.LinkOption;
import java.nio.file.Path;
import java.nio.file.attribute.PosixFilePermissions;
import java.util.List;
import java.util.Map;
import org.junit.jupiter.api.Test;

/** Real children that say what they were given; the whole program under hostile variables has checks/hostile_environment.py. */
class OwnProcessTest {
    /** Says what it finds, in lines. */
    static final class Child {
        private Child() {}

        public static void main(String[] args) throws IOException {
            System.getenv().forEach((name, value) -> System.out.println("env " + name + "=" + value));
            Native.toByteArray("loads the library");
            Files.readAllLines(Path.of("/proc/self/maps")).stream()
                    .filter(line -> line.contains("jnidispatch"))
                    .map(line -> "native " + line.substring(line.indexOf('/')))
                    .distinct()
                    .forEach(System.out::println);
            System.out.println("temporary " + System.getProperty("java.io.tmpdir"));
        }
    }

    private static List<String> child() throws Exception {
        Process process = OwnProcess.start(List.of(), List.of(), Child.class, List.of(), Map.of());
        try {
            return new String(process.getInputStream().readAllBytes(), StandardCharsets.UTF_8)
                    .lines()
                    .toList();
        } finally {
            assertThat(process.waitFor()).isZero();
        }
    }

    @Test
    void aChildHasAnEnvironmentMadeHereAndNothingInherited() throws Exception {
        assertThat(System.getenv()).as("this test needs some to be inherited").containsKey("HOME");
        List<String> said = child();
        Path drivers = MemoryFolder.drivers();
        assertThat(said.stream().filter(line -> line.startsWith("env ")))
                .containsExactlyInAnyOrder(
                        "env PATH=/usr/sbin:/usr/bin:/sbin:/bin",
                        "env LC_ALL=C.UTF-8",
                        "env HOME=" + drivers,
                        "env TMPDIR=" + drivers,
                        "env XDG_CACHE_HOME=" + drivers,
                        "env POCL_CACHE_DIR=" + drivers);
        assertThat(said).contains("temporary " + drivers);
    }

    @Test
    void nativeCodeIsLoadedFromAFolderInWhichOnlyThisUserCanChangeAName() throws Exception {
        List<String> natives =
                child().stream().filter(line -> line.startsWith("native ")).toList();
        Path folder = MemoryFolder.get();
        assertThat(natives).singleElement().asString().startsWith("native " + folder + "/");
        assertThat(folder.getParent()).isIn(Path.of("/dev/shm"), Path.of("/run"), Path.of("/tmp"));
        for (Path path = Path.of(natives.get(0).substring("native ".length()));
                path.startsWith(folder);
                path = path.getParent()) {
            Map<String, Object> stat = Files.readAttributes(path, "posix:permissions", LinkOption.NOFOLLOW_LINKS);
            assertThat(stat.get("permissions").toString()).doesNotContain("GROUP_WRITE", "OTHERS_WRITE");
            assertThat(Files.getAttribute(path, "unix:uid", LinkOption.NOFOLLOW_LINKS))
                    .isEqualTo((int) Self.user().orElseThrow());
        }
        assertThat(PosixFilePermissions.toString(Files.getPosixFilePermissions(folder.getParent())))
                .as("what is there before is the system's")
                .startsWith("rwx");
    }

    @Test
    void theFolderNamesThisProcessSoThatCleanFindsWhoseItIs() throws Exception {
        Path folder = MemoryFolder.get();
        assertThat(folder.getFileName().toString()).matches("loadwitness-\\d+-[0-9a-f]{24}");
        assertThat(Owner.of(folder))
                .isEqualTo(
                        Owner.running(Path.of("/proc"), ProcessHandle.current().pid()))
                .isPresent();
    }

    @Test
    void onlyTheNamesOfMesasDriversAreHandedOnAndOnlyIfTheyAreNames() {
        assertThat(OwnProcess.handedOn(Map.of("RUSTICL_ENABLE", "radeonsi:0,iris", "HSA_TOOLS_LIB", "x", "HOME", "/x")))
                .containsOnly(Map.entry("RUSTICL_ENABLE", "radeonsi:0,iris"));
        for (String value : List.of("", "../x", "/x", "a b", "a,", "x".repeat(20) + ",y".repeat(30))) {
            assertThat(OwnProcess.handedOn(Map.of("RUSTICL_ENABLE", value)))
                    .as(value)
                    .isEmpty();
        }
    }
}

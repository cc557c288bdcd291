// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.place;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.disk.Mount;
import java.io.IOException;
import java.nio.file.Path;
import java.util.List;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

final class FileSystemTest {
    /** A live system: root is an overlay whose changes lie in memory. Form of the lines: proc.rst, 3.5. */
    private static final List<String> LIVE = List.of(
            "22 1 0:20 / / rw,noatime - overlay overlay rw,lowerdir=/run/live/rootfs,upperdir=/run/live/cow/rw,workdir=/w",
            "30 22 8:17 / /media/my\\040stick rw shared:5 - vfat /dev/sdb1 rw,fmask=0022",
            "31 22 0:44 / /var/other rw - overlay overlay rw,lowerdir=/a,upperdir=/data/upper,workdir=/w");

    @Test
    void memoryIsToldFromADisk() throws IOException {
        FileSystem memory = FileSystem.of(Path.of("/dev/shm"));
        assertThat(memory.memory()).isTrue();
        assertThat(memory.word()).isEqualTo("tmpfs");
        assertThat(FileSystem.of(Path.of("/proc")).memory()).isFalse();
    }

    @Test
    void folderThatIsNotThereLiesWhereTheNearestAboveItLies(@TempDir Path folder) throws IOException {
        FileSystem there = FileSystem.of(folder.resolve("runs/FBR-2026-0142"));
        assertThat(there.folder()).isEqualTo(folder.toAbsolutePath());
        assertThat(there.freeBytes()).isPositive();
        assertThat(folder.resolve("runs")).doesNotExist();
    }

    @Test
    void overlaysChangesAreFoundWhereTheyLie() {
        assertThat(mount("/home/user").upperFolder()).contains(Path.of("/run/live/cow/rw"));
        assertThat(mount("/var/other/x").upperFolder()).contains(Path.of("/data/upper"));
        assertThat(Mount.of(Path.of("/home"), Mount.parse(LIVE.subList(1, 2)))).isEmpty();
    }

    @Test
    void stickIsTheInnermostMountAboveTheFolder() {
        Mount stick = mount("/media/my stick/runs/T");
        assertThat(stick.type()).isEqualTo("vfat");
        assertThat(stick.options()).contains("rw").doesNotContain("ro");
        assertThat(stick.upperFolder()).isEmpty();
        assertThat(mount("/media").type()).isEqualTo("overlay");
    }

    private static Mount mount(String folder) {
        return Mount.of(Path.of(folder), Mount.parse(LIVE)).orElseThrow();
    }
}

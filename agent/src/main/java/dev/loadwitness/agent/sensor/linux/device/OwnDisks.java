// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux.device;

import dev.loadwitness.agent.sensor.linux.file.Sysfs;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;

/** Finds the disks on which files lie, as their folders below {@code sys/devices}. */
public final class OwnDisks {
    private static final int DEEPEST = 4;

    private OwnDisks() {}

    /** Files without a disk, such as those in memory, give none. */
    public static List<Path> of(Path root, List<Path> files) {
        List<Path> disks = new ArrayList<>();
        for (Path file : files) {
            try {
                if (Files.getAttribute(file, "unix:dev") instanceof Number device) {
                    add(root.resolve("sys/dev/block").resolve(number(device.longValue())), DEEPEST, disks);
                }
            } catch (IOException | UnsupportedOperationException | IllegalArgumentException e) {
                // Not there yet, or no Linux: then there is no disk of which it could be said.
            }
        }
        return disks;
    }

    /** {@code major:minor} of a {@code st_dev}, split as glibc's {@code gnu_dev_major} and {@code gnu_dev_minor} do. */
    static String number(long device) {
        long major = ((device >>> 8) & 0xfff) | ((device >>> 32) & 0xfffff000L);
        long minor = (device & 0xff) | ((device >>> 12) & 0xffffff00L);
        return major + ":" + minor;
    }

    /** An encrypted or joined disk lies on others: its {@code slaves}. */
    private static void add(Path disk, int deep, List<Path> disks) throws IOException {
        if (deep == 0 || !Files.exists(disk)) {
            return;
        }
        Path real = disk.toRealPath();
        disks.add(real);
        for (Path below : Sysfs.list(real.resolve("slaves"))) {
            add(below, deep - 1, disks);
        }
    }
}

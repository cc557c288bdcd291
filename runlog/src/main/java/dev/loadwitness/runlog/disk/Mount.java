// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.disk;

import java.io.IOException;
import java.io.InputStream;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import java.util.OptionalLong;
import java.util.Set;

/**
 * A line of {@code /proc/self/mountinfo} (proc.rst, 3.5), which this user's root shows even where it is a changed one.
 *
 * @param point folder at which it is mounted
 * @param type the system's word, for example {@code vfat}
 * @param source most often a device
 * @param options of the mount and of the file system itself
 */
public record Mount(String point, String type, String source, List<String> options) {
    private static final Set<String> WITHOUT_LINKS = Set.of("vfat", "msdos", "exfat");
    private static final Set<String> WITHOUT_OWNERS =
            Set.of("vfat", "msdos", "exfat", "fuseblk", "ntfs", "ntfs3", "9p");
    private static final byte[] EXFAT = "EXFAT   ".getBytes(StandardCharsets.US_ASCII);
    private static final int EXFAT_AT = 3;

    public Mount {
        options = List.copyOf(options);
    }

    /** All that are mounted now; none where the system does not tell. */
    public static List<Mount> all() {
        try {
            byte[] all = Files.readAllBytes(Path.of("/proc/self/mountinfo"));
            return parse(new String(all, StandardCharsets.UTF_8).lines().toList()); // whatever bytes a name may have
        } catch (IOException e) {
            return List.of();
        }
    }

    public static List<Mount> parse(List<String> mountInfo) {
        List<Mount> mounts = new ArrayList<>();
        for (String line : mountInfo) {
            String[] halves = line.split(" - ", 2);
            String[] left = halves[0].split(" ", -1);
            String[] right = halves.length < 2 ? new String[0] : halves[1].split(" ", -1);
            if (left.length >= 6 && right.length >= 3) {
                mounts.add(new Mount(
                        left[4].replace("\\040", " "),
                        right[0],
                        right[1],
                        List.of((left[5] + "," + right[2]).split(",", -1))));
            }
        }
        return mounts;
    }

    /**
     * The innermost at or above {@code folder}; of several at one place the last, which hides the others.
     *
     * @param folder free of links
     */
    public static Optional<Mount> of(Path folder, List<Mount> mounts) {
        Mount found = null;
        for (Mount mount : mounts) {
            if (mount.holds(folder) && (found == null || mount.point.length() >= found.point.length())) {
                found = mount;
            }
        }
        return Optional.ofNullable(found);
    }

    /** By their texts: not every locale lets Java name every mount's folder. */
    boolean holds(Path folder) {
        String text = folder.toString();
        return point.equals("/") || text.equals(point) || text.startsWith(point + "/");
    }

    /** Where an overlay keeps what is written ({@code Documentation/filesystems/overlayfs.rst}). */
    public Optional<Path> upperFolder() {
        return options.stream()
                .filter(o -> type.equals("overlay") && o.startsWith("upperdir="))
                .map(o -> Path.of(o.substring("upperdir=".length())))
                .findFirst();
    }

    /** Whether every file on it may seem to belong to whoever mounted it, whoever made it. */
    boolean hasNoOwners() {
        return WITHOUT_OWNERS.contains(type);
    }

    /**
     * Whether no link, symbolic or hard, can lie on it: FAT and exFAT have none, so that no name on such a stick leads
     * away from it. The driver of exFAT in user space has the type of others too: there the device's first bytes tell
     * (exFAT specification, 3.1.2).
     */
    boolean hasNoLinks() {
        return WITHOUT_LINKS.contains(type) || (type.equals("fuseblk") && source.startsWith("/dev/") && isExfat());
    }

    private boolean isExfat() {
        try (InputStream in = Files.newInputStream(Path.of(source))) {
            byte[] head = in.readNBytes(EXFAT_AT + EXFAT.length);
            return head.length == EXFAT_AT + EXFAT.length
                    && java.util.Arrays.equals(head, EXFAT_AT, head.length, EXFAT, 0, EXFAT.length);
        } catch (IOException e) {
            return false;
        }
    }

    /** The user, other than root, who serves this file system, and can show there what he likes. */
    OptionalLong servedByUser() {
        if (!type.startsWith("fuse")) {
            return OptionalLong.empty();
        }
        return options.stream()
                .filter(o -> o.matches("user_id=[1-9][0-9]{0,9}"))
                .mapToLong(o -> Long.parseLong(o.substring("user_id=".length())))
                .findFirst();
    }
}

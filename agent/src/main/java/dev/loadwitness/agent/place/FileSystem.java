// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.place;

import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.FileStore;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Optional;
import java.util.Set;

/**
 * What kind of disk a folder lies on.
 *
 * @param folder the folder itself, or the nearest one above it that exists
 * @param type the system's word, for example {@code vfat}
 * @param memory whether it lies in memory: then a log there does not outlive a power cut
 * @param readOnly whether it is mounted so
 * @param freeBytes what this user may still write
 */
public record FileSystem(Path folder, String type, boolean memory, boolean readOnly, long freeBytes) {
    private static final Set<String> IN_MEMORY = Set.of("tmpfs", "ramfs", "devtmpfs", "rootfs");
    private static final Set<String> WITHOUT_OWNERS =
            Set.of("vfat", "msdos", "exfat", "fuseblk", "ntfs", "ntfs3", "9p");
    private static final Map<String, String> WORDS = Map.of(
            "vfat", "FAT",
            "msdos", "FAT",
            "fuseblk", "exFAT or NTFS (through FUSE)",
            "exfat", "exFAT",
            "ntfs", "NTFS",
            "ntfs3", "NTFS",
            "overlay", "overlay of a live system or container");

    /**
     * Of the file system that {@code folder} lies on, or will lie on. Nothing is made.
     *
     * @throws IOException if the system does not tell
     */
    public static FileSystem of(Path folder) throws IOException {
        Path existing = existing(folder);
        long free = existing.toFile().getUsableSpace();
        Optional<Mount> mount = Mount.of(real(existing), mounts());
        if (mount.isEmpty()) {
            FileStore store = Files.getFileStore(existing); // not Linux, or a changed root, where this fails too
            return new FileSystem(existing, store.type().toLowerCase(Locale.ROOT), false, store.isReadOnly(), free);
        }
        String type = mount.get().type();
        Optional<Path> upper = mount.get().upperFolder();
        boolean memory = IN_MEMORY.contains(type)
                || upper.flatMap(u -> Mount.of(u, mounts()))
                        .filter(m -> IN_MEMORY.contains(m.type()))
                        .isPresent();
        return new FileSystem(existing, type, memory, mount.get().options().contains("ro"), free);
    }

    private static Path real(Path path) {
        try {
            return path.toRealPath();
        } catch (IOException e) {
            return path;
        }
    }

    /** The nearest folder that is there, beginning with {@code folder} itself. */
    public static Path existing(Path folder) {
        Path path = folder.toAbsolutePath().normalize();
        while (!Files.isDirectory(path) && path.getParent() != null) {
            path = path.getParent();
        }
        return path;
    }

    private static List<String> mounts() {
        try {
            byte[] all = Files.readAllBytes(Path.of("/proc/self/mountinfo"));
            return new String(all, StandardCharsets.UTF_8).lines().toList(); // whatever bytes a name may have
        } catch (IOException e) {
            return List.of();
        }
    }

    /**
     * A line of {@code /proc/self/mountinfo} (proc.rst, 3.5), which this user's root shows even where it is a changed one.
     *
     * @param options of the mount and of the file system itself
     */
    record Mount(String point, String type, List<String> options) {
        /** The innermost at or above {@code folder}; of several at one place the last, which hides the others. */
        static Optional<Mount> of(Path folder, List<String> mountInfo) {
            Mount found = null;
            for (String line : mountInfo) {
                String[] halves = line.split(" - ", 2);
                String[] left = halves[0].split(" ", -1);
                String[] right = halves.length < 2 ? new String[0] : halves[1].split(" ", -1);
                if (left.length < 6 || right.length < 3) {
                    continue;
                }
                String point = left[4].replace("\\040", " ");
                if (isIn(folder.toString(), point) && (found == null || point.length() >= found.point.length())) {
                    found = new Mount(point, right[0], List.of((left[5] + "," + right[2]).split(",", -1)));
                }
            }
            return Optional.ofNullable(found);
        }

        /** By their texts: not every locale lets Java name every mount's folder. */
        private static boolean isIn(String folder, String point) {
            return point.equals("/") || folder.equals(point) || folder.startsWith(point + "/");
        }

        /** Where an overlay keeps what is written ({@code Documentation/filesystems/overlayfs.rst}). */
        Optional<Path> upperFolder() {
            return options.stream()
                    .filter(o -> type.equals("overlay") && o.startsWith("upperdir="))
                    .map(o -> Path.of(o.substring("upperdir=".length())))
                    .findFirst();
        }
    }

    /**
     * Whether every file on it belongs to whoever mounted it, whatever its author meant: then nothing on it can be trusted
     * to be root's.
     */
    public boolean withoutOwners() {
        return WITHOUT_OWNERS.contains(type);
    }

    /** For people: {@code FAT}, {@code ext4}, {@code tmpfs}. */
    public String word() {
        return WORDS.getOrDefault(type, type);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.place;

import dev.loadwitness.runlog.disk.Mount;
import java.io.IOException;
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
        List<Mount> mounts = Mount.all();
        Optional<Mount> mount = Mount.of(real(existing), mounts);
        if (mount.isEmpty()) {
            FileStore store = Files.getFileStore(existing); // not Linux, or a changed root, where this fails too
            return new FileSystem(existing, store.type().toLowerCase(Locale.ROOT), false, store.isReadOnly(), free);
        }
        String type = mount.get().type();
        Optional<Path> upper = mount.get().upperFolder();
        boolean memory = IN_MEMORY.contains(type)
                || upper.flatMap(u -> Mount.of(u, mounts))
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

    /** For people: {@code FAT}, {@code ext4}, {@code tmpfs}. */
    public String word() {
        return WORDS.getOrDefault(type, type);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.place;

import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.FileStore;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.Arrays;
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
        FileStore store = Files.getFileStore(existing);
        String type = store.type().toLowerCase(Locale.ROOT);
        boolean memory = IN_MEMORY.contains(type);
        if (type.equals("overlay")) {
            memory = upperFolder(existing, mounts()).map(FileSystem::isInMemory).orElse(false);
        }
        return new FileSystem(existing, type, memory, store.isReadOnly(), store.getUsableSpace());
    }

    private static boolean isInMemory(Path upper) {
        try {
            return IN_MEMORY.contains(Files.getFileStore(existing(upper)).type());
        } catch (IOException e) {
            return false;
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
            return Files.readAllLines(Path.of("/proc/self/mountinfo"), StandardCharsets.ISO_8859_1);
        } catch (IOException e) {
            return List.of();
        }
    }

    /**
     * Where an overlay keeps what is written: the option {@code upperdir} of the last overlay mounted at or above
     * {@code folder} ({@code Documentation/filesystems/overlayfs.rst}, {@code proc.rst} 3.5).
     */
    static Optional<Path> upperFolder(Path folder, List<String> mountInfo) {
        String upper = null;
        int longest = -1;
        for (String line : mountInfo) {
            String[] halves = line.split(" - ", 2);
            String[] left = halves[0].split(" ", -1);
            String[] right = halves.length < 2 ? new String[0] : halves[1].split(" ", -1);
            if (left.length < 5 || right.length < 3 || !right[0].equals("overlay")) {
                continue;
            }
            Path point = Path.of(left[4].replace("\\040", " "));
            if (folder.startsWith(point) && point.getNameCount() >= longest) {
                longest = point.getNameCount();
                upper = Arrays.stream(right[2].split(",", -1))
                        .filter(o -> o.startsWith("upperdir="))
                        .map(o -> o.substring("upperdir=".length()))
                        .findFirst()
                        .orElse(null);
            }
        }
        return Optional.ofNullable(upper).map(Path::of);
    }

    /** For people: {@code FAT}, {@code ext4}, {@code tmpfs}. */
    public String word() {
        return WORDS.getOrDefault(type, type);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.disk;

import java.io.IOException;
import java.io.InputStream;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.NoSuchFileException;
import java.nio.file.Path;

/**
 * A small file below {@code /proc} or {@code /sys}, which the kernel makes as it is read. Nobody can put a link or another
 * file there, and its links are the kernel's own; so it is opened by its path and nothing else.
 */
public final class KernelFile {
    private static final int MOST_BYTES = 1 << 20;

    private KernelFile() {}

    /**
     * The whole text; bytes beyond ASCII are taken as they come.
     *
     * @param file below {@code /proc} or {@code /sys}, or in a made-up tree
     */
    public static String text(Path file) throws IOException {
        if (!Files.isRegularFile(file)) {
            throw new NoSuchFileException(file.toString());
        }
        try (InputStream in = Files.newInputStream(file)) {
            return new String(in.readNBytes(MOST_BYTES), StandardCharsets.ISO_8859_1);
        }
    }
}

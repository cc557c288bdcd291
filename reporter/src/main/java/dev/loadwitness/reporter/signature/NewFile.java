// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import java.io.IOException;
import java.nio.file.FileAlreadyExistsException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.nio.file.StandardCopyOption;

/** Gives a finished temporary file its name, whole or not at all. */
final class NewFile {
    private NewFile() {}

    static void publish(Path temporary, Path file) throws IOException {
        try {
            // A hard link appears at once and, unlike an atomic move, never replaces what is there.
            Files.createLink(file, temporary);
        } catch (FileAlreadyExistsException e) {
            throw e;
        } catch (UnsupportedOperationException | IOException e) {
            // File systems without hard links (a USB stick): the gap between this question and the move is accepted.
            if (Files.exists(file)) {
                throw new FileAlreadyExistsException(file.toString());
            }
            Files.move(temporary, file, StandardCopyOption.ATOMIC_MOVE);
        }
    }

    static void deleteQuietly(Path temporary) {
        if (temporary == null) {
            return;
        }
        try {
            Files.deleteIfExists(temporary);
        } catch (IOException e) {
            // Left behind under a hidden name, readable by its owner only: no reason to hide the first error.
            return;
        }
    }
}

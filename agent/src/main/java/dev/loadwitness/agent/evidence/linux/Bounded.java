// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.linux;

import java.io.IOException;
import java.math.BigDecimal;
import java.math.RoundingMode;
import java.nio.charset.StandardCharsets;
import java.nio.file.AccessDeniedException;
import java.nio.file.DirectoryIteratorException;
import java.nio.file.DirectoryStream;
import java.nio.file.Files;
import java.nio.file.LinkOption;
import java.nio.file.NoSuchFileException;
import java.nio.file.Path;
import java.time.Duration;
import java.util.ArrayList;
import java.util.List;

/** Reads no more than asked for, and only what is a file: a pipe in its place would never answer. */
final class Bounded {
    /** More than a kernel file of one value ever holds. */
    static final int SMALL_BYTES = 4 << 10;

    private static final int MOST_ENTRIES = 2000;

    private Bounded() {}

    /** The first bytes of a file. */
    static byte[] head(Path file, int most) throws IOException {
        if (Files.exists(file) && !Files.isRegularFile(file)) {
            throw new IOException(file.getFileName() + " is not a file");
        }
        try (var in = Files.newInputStream(file)) {
            return in.readNBytes(most);
        }
    }

    /** The same as text of one byte a character, without control characters at its ends. */
    static String text(Path file, int most) throws IOException {
        return new String(head(file, most), StandardCharsets.ISO_8859_1).strip();
    }

    /** Entries of a folder, sorted by name, links not followed later on by anyone. */
    static List<Path> list(Path folder) throws IOException {
        List<Path> entries = new ArrayList<>();
        try (DirectoryStream<Path> stream = Files.newDirectoryStream(folder)) {
            for (Path entry : stream) {
                if (entries.size() == MOST_ENTRIES) {
                    throw new IOException(folder.getFileName() + " has more than " + MOST_ENTRIES + " entries");
                }
                entries.add(entry);
            }
        } catch (DirectoryIteratorException e) {
            throw e.getCause();
        }
        entries.sort(null);
        return entries;
    }

    /** Files below a folder, to a depth; links are not followed. */
    static List<Path> files(Path folder, int depth) throws IOException {
        List<Path> files = new ArrayList<>();
        for (Path entry : list(folder)) {
            if (Files.isRegularFile(entry, LinkOption.NOFOLLOW_LINKS)) {
                files.add(entry);
            } else if (depth > 1 && Files.isDirectory(entry, LinkOption.NOFOLLOW_LINKS)) {
                files.addAll(files(entry, depth - 1));
            }
            if (files.size() > MOST_ENTRIES) {
                throw new IOException(folder.getFileName() + " holds more than " + MOST_ENTRIES + " files");
            }
        }
        return files;
    }

    /** For people: what, not where, since a path can hold a user's name. */
    static String why(IOException e) {
        if (e instanceof AccessDeniedException) {
            return "permission denied";
        }
        if (e instanceof NoSuchFileException) {
            return "not there";
        }
        String message = e.getMessage();
        return e.getClass() == IOException.class && message != null
                ? message
                : e.getClass().getSimpleName();
    }

    /** Fit for a log line and a terminal: printable ASCII, and not long. */
    static String harmless(String text, int most) {
        String clean = text.replaceAll("[^\\x20-\\x7e]", "?").strip();
        return clean.length() <= most ? clean : clean.substring(0, most) + "...";
    }

    /** As facts tell it: to a tenth. */
    static String seconds(Duration duration) {
        return BigDecimal.valueOf(duration.toMillis(), 3)
                .setScale(1, RoundingMode.HALF_UP)
                .toPlainString();
    }
}

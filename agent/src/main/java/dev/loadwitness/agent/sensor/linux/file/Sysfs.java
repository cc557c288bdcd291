// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux.file;

import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.AccessDeniedException;
import java.nio.file.DirectoryIteratorException;
import java.nio.file.DirectoryStream;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.List;
import java.util.OptionalLong;

/** Looks round in sysfs while sensors are being found. Nothing here is used while sampling. */
public final class Sysfs {
    public static final int LONGEST_TEXT = 200;

    private Sysfs() {}

    /** Entries in the order of their names with numbers in them by value; empty if there is no such folder. */
    public static List<Path> list(Path folder) {
        List<Path> entries = new ArrayList<>();
        try (DirectoryStream<Path> stream = Files.newDirectoryStream(folder)) {
            stream.forEach(entries::add);
        } catch (IOException | DirectoryIteratorException e) {
            return List.of();
        }
        entries.sort(
                Comparator.comparingInt((Path p) -> numberIn(p.getFileName().toString()))
                        .thenComparing(p -> p.getFileName().toString()));
        return entries;
    }

    /** The first number in a name such as {@code temp12_input}; 0 if it has none. */
    public static int numberIn(String name) {
        int value = 0;
        boolean found = false;
        for (int i = 0; i < name.length(); i++) {
            char c = name.charAt(i);
            if (c >= '0' && c <= '9' && value < 100_000_000) {
                value = value * 10 + (c - '0');
                found = true;
            } else if (found) {
                break;
            }
        }
        return value;
    }

    /** One line of text without control characters; empty if it cannot be read. */
    public static String text(Path file) {
        if (!Files.isRegularFile(file)) {
            return "";
        }
        try (var in = Files.newInputStream(file)) {
            String all = new String(in.readNBytes(LONGEST_TEXT), StandardCharsets.UTF_8);
            return printable(all.strip());
        } catch (IOException e) {
            return "";
        }
    }

    public static OptionalLong number(Path file) {
        try {
            return OptionalLong.of(Long.parseLong(text(file)));
        } catch (NumberFormatException e) {
            return OptionalLong.empty();
        }
    }

    /** Replaces what would disturb a terminal or a log line. */
    public static String printable(String text) {
        return text.replaceAll("[\\p{Cntrl}\\p{Cf}\\uFFFD]", "?");
    }

    /** Why the file cannot be read, or an empty text if it can. */
    public static String whyUnreadable(Path file) {
        if (!Files.exists(file)) {
            return "there is no " + file.getFileName();
        }
        if (!Files.isRegularFile(file)) {
            return file.getFileName() + " is not a file";
        }
        try (var in = Files.newInputStream(file)) {
            return in.read() < 0 ? file.getFileName() + " is empty" : "";
        } catch (AccessDeniedException e) {
            return file.getFileName() + ": permission denied";
        } catch (IOException e) {
            return file.getFileName() + ": " + e.getMessage();
        }
    }

    /** Where a link leads, or the link itself if it leads nowhere. */
    public static Path real(Path link) {
        try {
            return link.toRealPath();
        } catch (IOException e) {
            return link;
        }
    }

    /** Where a link leads, as a path below {@code sys/devices} of this root; empty if it leads nowhere. */
    public static String devicePath(Path root, Path link) {
        try {
            Path devices = root.resolve("sys/devices").toRealPath();
            Path real = link.toRealPath();
            return real.startsWith(devices) ? devices.relativize(real).toString() : "";
        } catch (IOException e) {
            return "";
        }
    }
}

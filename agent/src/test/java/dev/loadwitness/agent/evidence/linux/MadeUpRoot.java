// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.linux;

import static java.nio.charset.StandardCharsets.UTF_8;

import java.io.ByteArrayOutputStream;
import java.io.IOException;
import java.io.UncheckedIOException;
import java.nio.ByteBuffer;
import java.nio.ByteOrder;
import java.nio.file.Files;
import java.nio.file.Path;
import java.nio.file.attribute.FileTime;
import java.nio.file.attribute.PosixFilePermissions;
import java.time.Duration;
import java.time.Instant;
import java.util.HashSet;
import java.util.Set;

/** A made-up root: the files a laptop has, and shell scripts in place of the system's programs. */
final class MadeUpRoot {
    static final String BOOT_BEFORE = "5d1c0000-0000-4000-8000-00000000b007";
    static final String BOOT_NOW = "6e2d0000-0000-4000-8000-00000000b008";
    static final Instant LAST_SAMPLE = Instant.parse("2026-03-03T10:00:00.250Z");
    static final Instant BOOT_START = Instant.parse("2026-03-03T10:00:08Z");

    final Path root;
    final Set<Path> inMemory = new HashSet<>();

    MadeUpRoot(Path root) {
        this.root = root;
        file("proc/sys/kernel/random/boot_id", BOOT_NOW + "\n");
        file("proc/stat", "cpu  1 2 3 4\nintr 5 0 0\nbtime " + BOOT_START.getEpochSecond() + "\nprocesses 7\n");
        file("proc/self/mounts", "proc /proc proc rw 0 0\n");
    }

    LinuxEvidence evidence() {
        return new LinuxEvidence(root, inMemory::contains, Duration.ofSeconds(3), Duration.ofSeconds(5));
    }

    Path file(String path, String content) {
        return file(path, content.getBytes(UTF_8));
    }

    Path file(String path, byte[] content) {
        try {
            Path file = root.resolve(path);
            Files.createDirectories(file.getParent());
            return Files.write(file, content);
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    void fileAt(String path, String content, Instant modified) {
        try {
            Files.setLastModifiedTime(file(path, content), FileTime.from(modified));
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    void folder(String path) {
        try {
            Files.createDirectories(root.resolve(path));
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    /** @param body of a shell script; {@code $ROOT} is this machine's root */
    void program(String name, String body) {
        try {
            Path file = file("usr/bin/" + name, "#!/bin/sh\nROOT=" + root + "\n" + body + "\n");
            Files.setPosixFilePermissions(file, PosixFilePermissions.fromString("rwxr-xr-x"));
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    /** A persistent journal, whose program tells these entries and these first kernel messages. */
    void journal(Export entries, Export kernel) {
        file("var/log/journal/0123456789abcdef0123456789abcdef/system.journal", "LPKSHHRH");
        file("told/entries", entries.bytes());
        file("told/kernel", kernel.bytes());
        program(
                "journalctl",
                "echo \"$@\" >>$ROOT/told/arguments; /usr/bin/env >$ROOT/told/environment\n"
                        + "case \"$*\" in *_TRANSPORT=kernel*) exec /bin/cat $ROOT/told/kernel;; *) exec /bin/cat $ROOT/told/entries;; esac");
    }

    void journal(Export entries) {
        journal(entries, new Export().kernel(0, "Linux version 6.1.0"));
    }

    void kernelLog(String... lines) {
        file("told/dmesg", String.join("\n", lines) + "\n");
        program("dmesg", "exec /bin/cat $ROOT/told/dmesg");
    }

    void pstore() {
        file("proc/self/mounts", "proc /proc proc rw 0 0\npstore /sys/fs/pstore pstore rw,nosuid 0 0\n");
        file("sys/module/pstore/parameters/backend", "efi_pstore\n");
        folder("sys/fs/pstore");
    }

    /** Entries in the journal export format, seconds after the last sample. */
    static final class Export {
        private final ByteArrayOutputStream out = new ByteArrayOutputStream();

        Export entry(double secondsAfter, String... fields) {
            long micros = LAST_SAMPLE.toEpochMilli() * 1000 + Math.round(secondsAfter * 1e6);
            line("__CURSOR=s=0;i=1");
            line("__REALTIME_TIMESTAMP=" + micros);
            for (String field : fields) {
                line(field);
            }
            line("");
            return this;
        }

        Export kernel(double secondsAfter, String message) {
            return entry(secondsAfter, "_TRANSPORT=kernel", "MESSAGE=" + message);
        }

        Export root(double secondsAfter, String message, String... fields) {
            String[] all = new String[fields.length + 2];
            all[0] = "_UID=0";
            all[1] = "MESSAGE=" + message;
            System.arraycopy(fields, 0, all, 2, fields.length);
            return entry(secondsAfter, all);
        }

        Export binary(String name, byte[] value) {
            line(name);
            out.writeBytes(ByteBuffer.allocate(8)
                    .order(ByteOrder.LITTLE_ENDIAN)
                    .putLong(value.length)
                    .array());
            out.writeBytes(value);
            line("");
            return this;
        }

        Export line(String line) {
            out.writeBytes((line + "\n").getBytes(UTF_8));
            return this;
        }

        byte[] bytes() {
            return out.toByteArray();
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.disk;

import static dev.loadwitness.runlog.disk.InputTest.refused;
import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.runlog.disk.DiskException.Kind;
import java.io.IOException;
import java.nio.ByteBuffer;
import java.nio.channels.FileChannel;
import java.nio.charset.StandardCharsets;
import java.nio.file.FileAlreadyExistsException;
import java.nio.file.Files;
import java.nio.file.LinkOption;
import java.nio.file.NoSuchFileException;
import java.nio.file.Path;
import java.nio.file.attribute.PosixFilePermissions;
import org.junit.jupiter.api.Assumptions;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

final class FolderTest {
    @TempDir
    private Path temporary;

    private Folder folder() {
        return Folder.at(temporary);
    }

    private static void write(FileChannel channel, String text) throws IOException {
        try (channel) {
            channel.write(ByteBuffer.wrap(text.getBytes(StandardCharsets.UTF_8)));
        }
    }

    @Test
    void aFileIsMadeOnceAndThenGoneOnWith() throws IOException {
        write(folder().create("run.jsonl"), "one");
        write(folder().append("run.jsonl"), "two");

        assertThat(temporary.resolve("run.jsonl")).hasContent("onetwo");
        assertThatThrownBy(() -> folder().create("run.jsonl")).isInstanceOf(FileAlreadyExistsException.class);
        assertThatThrownBy(() -> folder().append("none")).isInstanceOf(NoSuchFileException.class);
        assertThat(folder().names()).containsExactly("run.jsonl");
    }

    @Test
    void nothingIsWrittenThroughALink() throws IOException {
        Path other = Files.writeString(temporary.resolve("passwd"), "other");
        Files.createSymbolicLink(temporary.resolve("journal"), other);
        Files.createSymbolicLink(temporary.resolve("lock"), temporary.resolve("made"));

        refused(() -> folder().append("journal"), Kind.LINK, "journal is a link, and nothing is written through one");
        refused(() -> folder().createOrUpdate("journal"), Kind.LINK, "journal is a link");
        refused(() -> folder().readOwn("journal"), Kind.LINK, "journal is a link");
        refused(() -> folder().checkOwn("journal"), Kind.LINK, "journal is a link");
        refused(() -> folder().createOrUpdate("lock"), Kind.LINK, "lock is a link");

        assertThat(other).hasContent("other");
        assertThat(temporary.resolve("made")).doesNotExist();
    }

    @Test
    void nothingIsWrittenToAFileThatHasAnotherName() throws IOException {
        Path other = Files.writeString(temporary.resolve("passwd"), "other");
        Files.createLink(temporary.resolve("journal"), other);

        refused(() -> folder().append("journal"), Kind.FOREIGN, "journal has another name somewhere (a hard link)");
    }

    @Test
    void nothingIsWrittenToAPipe() throws Exception {
        Path pipe = temporary.resolve("journal");
        assertThat(new ProcessBuilder("mkfifo", pipe.toString()).start().waitFor())
                .isZero();

        refused(() -> folder().append("journal"), Kind.WRONG_KIND, "journal is no file");
        refused(() -> folder().createOrUpdate("journal"), Kind.WRONG_KIND, "journal is no file");
    }

    @Test
    void anotherUsersFileIsNotGoneOnWith() throws IOException {
        Assumptions.assumeTrue(Self.isRoot()); // nobody else can make one
        Path file = Files.writeString(temporary.resolve("journal"), "theirs");
        Files.setAttribute(file, "unix:uid", 4321, LinkOption.NOFOLLOW_LINKS);

        refused(() -> folder().append("journal"), Kind.FOREIGN, "journal belongs to user 4321, and this is user 0");
    }

    @Test
    void foldersAreMadeForNobodyElseToWriteToAndTakenBack() throws IOException {
        Path inner = temporary.resolve("a/b/c");

        assertThat(Folder.at(inner).make()).containsExactly(inner, temporary.resolve("a/b"), temporary.resolve("a"));
        assertThat(Folder.at(inner).make()).isEmpty();
        assertThat(PosixFilePermissions.toString(Files.getPosixFilePermissions(inner)))
                .matches("rwx[r-]-[x-][r-]-[x-]");

        Folder.removeEmpty(inner);
        assertThat(inner).doesNotExist();
        Folder.removeEmpty(temporary);
        assertThat(temporary).exists();
    }

    @Test
    void inThePlaceOfAFileOrBelowALinkThatLeadsNowhereNoFolderIsMade() throws IOException {
        Path file = Files.writeString(temporary.resolve("file"), "text");
        Path link = Files.createSymbolicLink(temporary.resolve("link"), temporary.resolve("nowhere"));

        assertThatThrownBy(() -> Folder.at(file.resolve("inner")).make())
                .isInstanceOf(FileAlreadyExistsException.class);
        assertThatThrownBy(() -> Folder.at(link.resolve("inner")).make()).isInstanceOf(IOException.class);
        assertThat(temporary.resolve("nowhere")).doesNotExist();
    }

    @Test
    void whatIsMadeWithUmaskZeroIsForNobodyElseToWriteTo() throws Exception {
        String java = Path.of(System.getProperty("java.home"), "bin", "java").toString();
        Process process = new ProcessBuilder(
                        "sh",
                        "-c",
                        "umask 000; unset HOME; exec \"$@\"",
                        "sh",
                        java,
                        "-cp",
                        System.getProperty("java.class.path"),
                        Maker.class.getName(),
                        temporary.toString())
                .inheritIO()
                .start();
        assertThat(process.waitFor()).isZero();

        assertThat(mode("inner")).isEqualTo("rwxr-xr-x");
        assertThat(mode("inner/run.jsonl")).isEqualTo("rw-r--r--");
        assertThat(mode("inner/journal")).isEqualTo("rw-r--r--");
        assertThat(mode("inner/page")).isEqualTo("rw-r--r--");
        assertThat(mode("inner/key")).isEqualTo("rw-------");
    }

    private String mode(String name) throws IOException {
        return PosixFilePermissions.toString(Files.getPosixFilePermissions(temporary.resolve(name)));
    }

    /** Makes one of each, as another process with another umask. */
    static final class Maker {
        private Maker() {}

        public static void main(String[] words) throws IOException {
            Path inner = Path.of(words[0], "inner");
            Folder.at(inner).make();
            Folder.at(inner).create("run.jsonl").close();
            Folder.at(inner).createOrUpdate("journal").close();
            NewFile.at(inner.resolve("page")).write(new byte[1]);
            NewFile.at(inner.resolve("key")).secret().write(new byte[1]);
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.disk;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.runlog.disk.DiskException.Kind;
import dev.loadwitness.runlog.disk.Input.Named;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import org.assertj.core.api.ThrowableAssert.ThrowingCallable;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.Timeout;
import org.junit.jupiter.api.io.TempDir;

@Timeout(value = 60, threadMode = Timeout.ThreadMode.SEPARATE_THREAD)
final class InputTest {
    @TempDir
    private Path folder;

    @Test
    void aFileIsReadWholly() throws IOException {
        Path file = Files.writeString(folder.resolve("sheet.yaml"), "ticket: ä");

        assertThat(Input.text(file, Named.BY_PLACE, 10)).isEqualTo("ticket: ä");
        assertThat(Input.bytes(file, Named.BY_PERSON, 10)).hasSize(10);
    }

    @Test
    void aFileLargerThanTheCallerCanHoldIsRefusedAndNotReadOn() throws IOException {
        Path file = Files.write(folder.resolve("large"), new byte[11]);

        refused(() -> Input.bytes(file, Named.BY_PERSON, 10), Kind.TOO_LARGE, "is larger than 10 bytes");
        assertThat(Input.bytes(file, Named.BY_PERSON, 11)).hasSize(11);
    }

    @Test
    void aPipeADeviceAndAFolderAreRefusedAtOnce() throws Exception {
        Path pipe = folder.resolve("pipe");
        assertThat(new ProcessBuilder("mkfifo", pipe.toString()).start().waitFor())
                .isZero();
        Path toPipe = Files.createSymbolicLink(folder.resolve("to-pipe"), pipe);

        for (Named named : Named.values()) {
            refused(() -> Input.open(pipe, named, 10), Kind.WRONG_KIND, "is a device, a pipe or a socket");
            refused(() -> Input.open(Path.of("/dev/zero"), named, 10), Kind.WRONG_KIND, "is a device");
            refused(() -> Input.open(folder, named, 10), Kind.WRONG_KIND, "is a folder");
        }
        refused(() -> Input.open(toPipe, Named.BY_PERSON, 10), Kind.WRONG_KIND, "is a device, a pipe or a socket");
    }

    @Test
    void aLinkIsFollowedOnlyWhereAPersonNamedIt() throws IOException {
        Path key = Files.writeString(folder.resolve("key"), "secret");
        Path link = Files.createSymbolicLink(folder.resolve("run.part2.jsonl"), key);

        refused(() -> Input.text(link, Named.BY_PLACE, 10), Kind.LINK, "is a link, and none is followed here");
        assertThat(Input.text(link, Named.BY_PERSON, 10)).isEqualTo("secret");
    }

    @Test
    void aFolderThatAPersonNamedMayBeALink() throws IOException {
        Path real = Files.createDirectory(folder.resolve("real"));
        Files.writeString(real.resolve("file"), "text");
        Path link = Files.createSymbolicLink(folder.resolve("link"), real);

        assertThat(Input.text(link.resolve("file"), Named.BY_PLACE, 10)).isEqualTo("text");
    }

    @Test
    void aMissingFileAndOneThatIsNoTextAreNamed() throws IOException {
        Path latin = Files.write(folder.resolve("latin"), new byte[] {(byte) 0xe4});

        refused(() -> Input.text(folder.resolve("none"), Named.BY_PERSON, 10), Kind.MISSING, "none: no such file");
        refused(() -> Input.text(folder.resolve("none"), Named.BY_PLACE, 10), Kind.MISSING, "none: no such file");
        refused(() -> Input.text(latin, Named.BY_PERSON, 10), Kind.NOT_TEXT, "is not UTF-8 text");
    }

    @Test
    void aFileThatGrowsWhileItIsReadEndsAtTheBound() throws IOException {
        Path file = Files.write(folder.resolve("growing"), new byte[4]);
        try (var in = Input.open(file, Named.BY_PERSON, 8)) {
            assertThat(in.readNBytes(4)).hasSize(4);
            Files.write(file, new byte[9]);
            assertThatThrownBy(in::readAllBytes).isInstanceOf(DiskException.class);
        }
    }

    static void refused(ThrowingCallable use, Kind kind, String words) {
        assertThatThrownBy(use)
                .isInstanceOfSatisfying(
                        DiskException.class, e -> assertThat(e.kind()).isEqualTo(kind))
                .hasMessageContaining(words);
    }
}

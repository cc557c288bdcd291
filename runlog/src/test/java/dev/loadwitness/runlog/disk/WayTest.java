// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.disk;

import static dev.loadwitness.runlog.disk.InputTest.refused;
import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.disk.DiskException.Kind;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.LinkOption;
import java.nio.file.Path;
import java.nio.file.attribute.PosixFilePermissions;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/** What root takes for its own; only root can make such places. */
final class WayTest {
    private static final int SOMEBODY = 4321;

    @TempDir
    private Path temporary;

    private Path folder;

    @BeforeEach
    void only() throws IOException {
        org.junit.jupiter.api.Assumptions.assumeTrue(Self.isRoot());
        folder = Files.createDirectory(temporary.toRealPath().resolve("folder"));
    }

    @Test
    void rootsOwnFolderIsTrustedAlsoBelowOneThatKeepsEachOwnersEntries() throws IOException {
        mode(folder, "rwxrwxrwx", true);
        Path inner = Files.createDirectory(folder.resolve("inner"));

        assertThat(Way.trusted(inner)).isEqualTo(inner);
        assertThat(Way.trusted(inner.resolve("../inner/."))).isEqualTo(inner);
    }

    @Test
    void aFolderOfSomebodyElseIsNotNorOneInIt() throws IOException {
        Path inner = Files.createDirectory(folder.resolve("inner"));
        give(folder);

        refused(() -> Way.trusted(folder), Kind.FOREIGN, folder + " belongs to user 4321");
        refused(
                () -> Way.trusted(inner),
                Kind.FOREIGN,
                "name a folder of root's own (chown makes one), or run this as that user");
    }

    @Test
    void aFolderThatOthersMayWriteToIsNot() throws IOException {
        mode(folder, "rwxrwxrwx", false);

        refused(() -> Way.trusted(folder), Kind.FOREIGN, "may be written to by others, who could");
    }

    @Test
    void aGroupsFolderIsNotUnlessTheGroupIsRoots() throws IOException {
        mode(folder, "rwxrwx---", false);
        assertThat(Way.trusted(folder)).isEqualTo(folder);

        Files.setAttribute(folder, "unix:gid", SOMEBODY);
        refused(() -> Way.trusted(folder), Kind.FOREIGN, "may be written to by others, who could");
    }

    @Test
    void rootFollowsItsOwnLinksAndNobodyElses() throws IOException {
        Path link = Files.createSymbolicLink(temporary.resolve("link"), Path.of("folder"));
        Files.writeString(folder.resolve("file"), "text");

        assertThat(Way.trusted(link)).isEqualTo(folder);
        assertThat(Input.text(link.resolve("file"), Input.Named.BY_PERSON, 10)).isEqualTo("text");

        give(link);
        refused(() -> Way.trusted(link), Kind.LINK, link + " is a link that user 4321 made");
        refused(
                () -> Input.text(link.resolve("file"), Input.Named.BY_PERSON, 10),
                Kind.LINK,
                link + " is a link that user 4321 made");
    }

    @Test
    void linksThatLeadToEachOtherEnd() throws IOException {
        Path link = Files.createSymbolicLink(folder.resolve("link"), Path.of("link"));

        refused(() -> Way.trusted(link), Kind.LINK, "from link to link without end");
    }

    @Test
    void rootReadsWhatIsSomebodyElsesButWritesNothingThere() throws IOException {
        Path file = Files.writeString(folder.resolve("sheet.yaml"), "text");
        give(folder);

        assertThat(Input.text(file, Input.Named.BY_PERSON, 10)).isEqualTo("text");
        refused(() -> NewFile.at(folder.resolve("new")).write(new byte[1]), Kind.FOREIGN, "belongs to user 4321");
    }

    private static void give(Path path) throws IOException {
        Files.setAttribute(path, "unix:uid", SOMEBODY, LinkOption.NOFOLLOW_LINKS);
    }

    private static void mode(Path path, String permissions, boolean sticky) throws IOException {
        Files.setPosixFilePermissions(path, PosixFilePermissions.fromString(permissions));
        if (sticky) {
            int mode = (Integer) Files.getAttribute(path, "unix:mode");
            Files.setAttribute(path, "unix:mode", (mode & 07777) | 01000);
        }
    }
}

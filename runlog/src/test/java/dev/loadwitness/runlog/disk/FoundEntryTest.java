// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.disk;

import static dev.loadwitness.runlog.disk.InputTest.refused;
import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.disk.DiskException.Kind;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.LinkOption;
import java.nio.file.Path;
import org.junit.jupiter.api.Assumptions;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

final class FoundEntryTest {
    @TempDir
    private Path temporary;

    private Path tree;
    private Path photos;

    @BeforeEach
    void aTreeAndSomebodysPhotos() throws IOException {
        tree = Files.createDirectories(temporary.resolve("tree/inner")).getParent();
        Files.writeString(tree.resolve("inner/file"), "12345");
        photos = Files.createDirectories(temporary.resolve("photos"));
        Files.writeString(photos.resolve("cat.jpg"), "meow");
        Files.createSymbolicLink(tree.resolve("inner/link"), photos);
    }

    @Test
    void aTreeGoesWithAllInItAndALinkInItGoesItself() throws IOException {
        FoundEntry found = FoundEntry.look(tree).orElseThrow();
        assertThat(found.bytes()).isEqualTo(5);

        found.remove();

        assertThat(tree).doesNotExist();
        assertThat(photos.resolve("cat.jpg")).exists();
    }

    @Test
    void whatTookItsPlaceStays() throws IOException {
        FoundEntry found = FoundEntry.look(tree).orElseThrow();
        Files.move(tree, temporary.resolve("moved"));
        Files.createSymbolicLink(tree, photos);
        refused(found::remove, Kind.FOREIGN, "tree stays: something else is there by now");

        Files.delete(tree);
        refused(found::remove, Kind.MISSING, "is not there any more");

        Files.move(photos, tree);
        refused(found::remove, Kind.FOREIGN, "tree stays: something else is there by now");
        assertThat(tree.resolve("cat.jpg")).exists();
    }

    @Test
    void aFileThatWasReplacedStays() throws IOException {
        Path file = tree.resolve("inner/file");
        FoundEntry found = FoundEntry.look(file).orElseThrow();
        Files.writeString(file.resolveSibling("other"), "other");
        Files.move(file, file.resolveSibling("old"));
        Files.move(file.resolveSibling("other"), file);

        refused(found::remove, Kind.FOREIGN, "file stays");
        assertThat(file).hasContent("other");
    }

    @Test
    void linksAndPipesAreNotFound() throws Exception {
        assertThat(new ProcessBuilder("mkfifo", temporary.resolve("pipe").toString())
                        .start()
                        .waitFor())
                .isZero();

        assertThat(FoundEntry.look(temporary.resolve("pipe"))).isEmpty();
        assertThat(FoundEntry.look(tree.resolve("inner/link"))).isEmpty();
        assertThat(FoundEntry.look(temporary.resolve("none"))).isEmpty();
    }

    @Test
    void aTreeWithSomethingOfAnotherUserInItIsNotEmptiedOfThat() throws IOException {
        Assumptions.assumeTrue(Self.isRoot()); // nobody else can make one
        FoundEntry found = FoundEntry.look(tree).orElseThrow();
        Files.setAttribute(tree.resolve("inner/file"), "unix:uid", 4321, LinkOption.NOFOLLOW_LINKS);

        refused(found::remove, Kind.FOREIGN, "inner/file stays: it belongs to 4321");

        assertThat(tree.resolve("inner/file")).exists();
    }

    @Test
    void aFolderOnTheWayThatBecameALinkIsNotFollowed() throws IOException {
        Assumptions.assumeTrue(Self.isRoot()); // who alone can be led anywhere by another user
        Path file = tree.resolve("inner/file");
        FoundEntry found = FoundEntry.look(file).orElseThrow();
        Files.move(tree.resolve("inner"), temporary.resolve("inner"));
        Files.createSymbolicLink(tree.resolve("inner"), temporary.resolve("inner"));

        refused(found::remove, Kind.FOREIGN, "its folder is not there any more, or a link by now");

        assertThat(temporary.resolve("inner/file")).exists();
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.disk;

import static java.nio.file.LinkOption.NOFOLLOW_LINKS;

import dev.loadwitness.runlog.disk.DiskException.Kind;
import java.io.FilterInputStream;
import java.io.IOException;
import java.io.InputStream;
import java.nio.ByteBuffer;
import java.nio.channels.Channels;
import java.nio.channels.FileChannel;
import java.nio.charset.CharacterCodingException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.NoSuchFileException;
import java.nio.file.Path;
import java.nio.file.StandardOpenOption;
import java.nio.file.attribute.BasicFileAttributes;
import java.security.MessageDigest;
import java.security.NoSuchAlgorithmException;
import java.util.Optional;

/**
 * Opens what is there for reading: a regular file, never a folder, a device or a pipe (which could give bytes for ever,
 * or none), and no more of it than the caller can hold. For root every folder on the way is opened from within the one
 * before, so that nobody leads it elsewhere by a link, and nobody can make it wait at a pipe; other users may have to wait
 * where somebody puts a pipe in a file's place in the very moment in which it is opened.
 */
public final class Input {
    /** Who says that it is this file. */
    public enum Named {
        /** A person, on the command line: links are followed, for root only those that root made. */
        BY_PERSON,
        /** Its place or name, beside another file: whoever put a link there may have no right to what it leads to. */
        BY_PLACE
    }

    private Input() {}

    /**
     * The file's bytes, as they come.
     *
     * @param mostBytes after so many the stream throws a {@link DiskException}
     */
    public static InputStream open(Path file, Named named, long mostBytes) throws IOException {
        return stream(channel(file, named), file, mostBytes);
    }

    /** The whole file. */
    public static byte[] bytes(Path file, Named named, int mostBytes) throws IOException {
        try (InputStream in = open(file, named, mostBytes)) {
            return in.readAllBytes();
        }
    }

    /** The whole file, which must be UTF-8. */
    public static String text(Path file, Named named, int mostBytes) throws IOException {
        byte[] bytes = bytes(file, named, mostBytes);
        try {
            return StandardCharsets.UTF_8
                    .newDecoder()
                    .decode(ByteBuffer.wrap(bytes))
                    .toString();
        } catch (CharacterCodingException e) {
            throw new DiskException(Kind.NOT_TEXT, file + " is not UTF-8 text; save it as UTF-8", e);
        }
    }

    /** Digest of the whole file, of any size. */
    public static byte[] sha256(Path file, Named named) throws IOException {
        try (InputStream in = open(file, named, Long.MAX_VALUE)) {
            MessageDigest digest = MessageDigest.getInstance("SHA-256");
            byte[] chunk = new byte[64 << 10];
            for (int count = in.read(chunk); count >= 0; count = in.read(chunk)) {
                digest.update(chunk, 0, count);
            }
            return digest.digest();
        } catch (NoSuchAlgorithmException e) {
            throw new IllegalStateException("every Java platform has SHA-256", e);
        }
    }

    /** For those who read here and there. */
    public static FileChannel channel(Path file, Named named) throws IOException {
        Path own = named == Named.BY_PERSON ? target(file) : beside(file);
        Path folder = own.getParent();
        Path name = own.getFileName();
        if (folder == null || name == null) {
            throw new DiskException(Kind.WRONG_KIND, file + " is a folder, not a file; give a file");
        }
        try {
            if (Self.isRoot()) {
                try (OpenFolder in = OpenFolder.walk(folder)) {
                    return in.read(name.toString(), !Way.isTrusted(folder));
                }
            }
            Optional<BasicFileAttributes> before = look(own);
            OpenFolder.requireFile(
                    own,
                    before.orElseThrow(() -> new DiskException(Kind.MISSING, file + ": no such file; check the name")));
            FileChannel channel = FileChannel.open(own, StandardOpenOption.READ, NOFOLLOW_LINKS);
            return OpenFolder.checked(channel, own, before.get(), look(own));
        } catch (DiskException e) {
            throw e;
        } catch (NoSuchFileException e) {
            throw new DiskException(Kind.MISSING, file + ": no such file; check the name", e);
        } catch (IOException e) {
            throw DiskException.unreadable(file, e);
        }
    }

    /** What the path leads to. */
    private static Path target(Path file) throws IOException {
        if (Self.isRoot()) {
            return Way.withoutForeignLinks(file);
        }
        try {
            return file.toRealPath();
        } catch (NoSuchFileException e) {
            throw new DiskException(Kind.MISSING, file + ": no such file; check the name", e);
        } catch (IOException e) {
            throw DiskException.unreadable(file, e);
        }
    }

    /** The name itself, in what its folder's path leads to: a person named that, or a file in it. */
    private static Path beside(Path file) throws IOException {
        Path absolute = file.toAbsolutePath();
        Path folder = absolute.getParent();
        return folder == null ? absolute : target(folder).resolve(absolute.getFileName());
    }

    private static Optional<BasicFileAttributes> look(Path file) throws IOException {
        try {
            return Optional.of(Files.readAttributes(file, BasicFileAttributes.class, NOFOLLOW_LINKS));
        } catch (NoSuchFileException e) {
            return Optional.empty();
        }
    }

    private static InputStream stream(FileChannel channel, Path file, long mostBytes) {
        return new Bounded(Channels.newInputStream(channel), file, mostBytes);
    }

    private static final class Bounded extends FilterInputStream {
        private final Path file;
        private final long most;
        private long left;

        Bounded(InputStream in, Path file, long most) {
            super(in);
            this.file = file;
            this.most = most;
            this.left = most;
        }

        @Override
        public int read() throws IOException {
            byte[] one = new byte[1];
            return read(one, 0, 1) == 1 ? one[0] & 0xff : -1;
        }

        @Override
        public int read(byte[] bytes, int offset, int length) throws IOException {
            // One more than may come, so that its coming is seen.
            int read = super.read(bytes, offset, (int) Math.min(length, left == Long.MAX_VALUE ? left : left + 1));
            if (read > left) {
                throw new DiskException(
                        Kind.TOO_LARGE, file + " is larger than " + words(most) + "; is this the file that you mean?");
            }
            left -= Math.max(0, read);
            return read;
        }

        @Override
        public long skip(long n) throws IOException {
            long skipped = super.skip(Math.min(n, left));
            left -= skipped;
            return skipped;
        }

        @Override
        public boolean markSupported() {
            return false;
        }

        private static String words(long bytes) {
            if (bytes >= 1 << 20 && bytes % (1 << 20) == 0) {
                return (bytes >> 20) + " MiB";
            }
            return bytes >= 1 << 10 && bytes % (1 << 10) == 0 ? (bytes >> 10) + " KiB" : bytes + " bytes";
        }
    }
}

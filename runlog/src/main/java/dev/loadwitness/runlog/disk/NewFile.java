// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.disk;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.runlog.disk.DiskException.Kind;
import java.io.BufferedOutputStream;
import java.io.IOException;
import java.io.InputStream;
import java.io.OutputStream;
import java.nio.channels.Channels;
import java.nio.channels.FileChannel;
import java.nio.file.FileAlreadyExistsException;
import java.nio.file.Files;
import java.nio.file.NoSuchFileException;
import java.nio.file.Path;
import java.nio.file.attribute.BasicFileAttributes;
import java.nio.file.attribute.PosixFileAttributes;
import java.security.DigestOutputStream;
import java.security.MessageDigest;
import java.security.NoSuchAlgorithmException;
import java.security.SecureRandom;
import java.util.Arrays;
import java.util.Collection;
import java.util.HexFormat;
import java.util.List;
import java.util.Optional;

/**
 * A file that appears whole or not at all: it is written beside under a fresh name, forced, and then given its own. What
 * has that name already stays, or is replaced if so wished; but never an input of the same command, a run log or a key,
 * nor what is no file. A link of that name is replaced itself, and what it leads to stays. When it fails, nothing is left.
 */
public final class NewFile {
    private static final SecureRandom RANDOM = new SecureRandom();
    private static final int RANDOM_BYTES = 16;
    private static final String BESIDE_BEGINS = ".loadwitness-";
    private static final String BESIDE_ENDS = ".new";
    private static final String FOR_OWNER = "rw-------";

    /** Never for others to write, whatever the umask says. */
    private static final String FOR_READERS = "rw-r--r--";

    private final Path file;
    private final String mode;
    private final boolean replaces;
    private final List<Path> inputs;
    private final boolean verified;

    private NewFile(Path file, String mode, boolean replaces, Collection<Path> inputs, boolean verified) {
        this.file = file;
        this.mode = mode;
        this.replaces = replaces;
        this.inputs = List.copyOf(inputs);
        this.verified = verified;
    }

    /** What goes into it. */
    @FunctionalInterface
    public interface Content {
        /**
         * Writes all of it.
         *
         * @param out is not to be closed
         */
        void writeTo(OutputStream out) throws IOException;
    }

    /** Whether a file of that name is what a program that was killed left of a new file. */
    public static boolean isUnfinished(String name) {
        return name.matches("\\.loadwitness-[0-9a-f]{32}\\.new");
    }

    public static NewFile at(Path file) {
        return new NewFile(file, FOR_READERS, false, List.of(), false);
    }

    /** For nobody's eyes but its owner's. */
    public NewFile secret() {
        return new NewFile(file, FOR_OWNER, replaces, inputs, verified);
    }

    /** Takes the place of what has its name. */
    public NewFile replacing() {
        return new NewFile(file, mode, true, inputs, verified);
    }

    /**
     * Never replaces one of these.
     *
     * @param all what this command reads, under whatever names or links
     */
    public NewFile keeping(Collection<Path> all) {
        return new NewFile(file, mode, replaces, all, verified);
    }

    /** Reads what it wrote before it gets its name, and compares. */
    public NewFile verified() {
        return new NewFile(file, mode, replaces, inputs, true);
    }

    /** Says now what {@link #write} would not do, before long work is done for it. */
    public void check() throws IOException {
        Path folder = folder();
        try (OpenFolder in = OpenFolder.open(folder)) {
            refuse(in);
        } catch (DiskException e) {
            throw e;
        } catch (IOException e) {
            throw unwritable(e);
        }
    }

    public void write(byte[] bytes) throws IOException {
        write(out -> out.write(bytes));
    }

    /** Returns when the file is on the disk under its name, as far as the system can promise that. */
    public void write(Content content) throws IOException {
        Path folder = folder();
        try (OpenFolder in = OpenFolder.open(folder)) {
            refuse(in);
            String fresh = BESIDE_BEGINS + random() + BESIDE_ENDS;
            try {
                byte[] digest = fill(in.create(fresh, mode), content);
                if (verified && !Arrays.equals(digest, digest(in, fresh))) {
                    throw new DiskException(
                            Kind.UNWRITABLE,
                            file + " came out different from what was written: its disk is not to be trusted; take"
                                    + " another");
                }
                name(in, folder, fresh);
                in.force();
            } finally {
                deleteQuietly(in, fresh);
            }
        } catch (DiskException e) {
            throw e;
        } catch (FileAlreadyExistsException e) {
            throw exists();
        } catch (IOException e) {
            throw unwritable(e);
        }
    }

    private Path folder() throws IOException {
        if (fileName().isEmpty()) {
            throw new DiskException(Kind.WRONG_KIND, "'" + file + "' names no file; give a file's name");
        }
        Path folder = requireNonNull(file.toAbsolutePath().getParent(), "what has a name has a folder");
        try {
            return Self.isRoot() ? Way.trusted(folder) : folder.toRealPath();
        } catch (DiskException e) {
            throw e.kind() == Kind.MISSING ? noFolder(folder, e) : e;
        } catch (NoSuchFileException e) {
            throw noFolder(folder, e);
        } catch (IOException e) {
            throw unwritable(e);
        }
    }

    private DiskException noFolder(Path folder, IOException e) {
        return new DiskException(
                Kind.MISSING, file + " cannot be written: there is no folder " + folder + "; make it first", e);
    }

    private String fileName() {
        Path name = file.toAbsolutePath().getFileName();
        String text = name == null ? "" : name.toString();
        return text.equals(".") || text.equals("..") ? "" : text;
    }

    private void refuse(OpenFolder in) throws IOException {
        Optional<PosixFileAttributes> there = in.look(fileName());
        if (there.isEmpty()) {
            return;
        }
        if (!replaces) {
            throw exists();
        }
        if (there.get().isSymbolicLink()) {
            return;
        }
        if (!there.get().isRegularFile()) {
            String what = there.get().isDirectory() ? "a folder" : "a device, a pipe or a socket";
            throw new DiskException(Kind.WRONG_KIND, file + " is " + what + " and stays; choose another name");
        }
        for (Path input : inputs) {
            if (isSame(input, there.get())) {
                throw new DiskException(
                        Kind.PRECIOUS,
                        file + " is an input of this command (" + input + ") and stays as it is; choose another name");
            }
        }
        try (FileChannel old = in.read(fileName(), false)) {
            Optional<String> what = Precious.what(old);
            if (what.isPresent()) {
                throw new DiskException(
                        Kind.PRECIOUS, file + " is " + what.get() + " and is never replaced; choose another name");
            }
        } catch (DiskException e) {
            throw e;
        } catch (IOException e) {
            throw new DiskException(
                    Kind.PRECIOUS,
                    file + " stays, for it cannot be looked into (" + DiskException.reason(e)
                            + "); choose another name",
                    e);
        }
    }

    private static boolean isSame(Path input, BasicFileAttributes there) throws IOException {
        try {
            return there.fileKey()
                    .equals(Files.readAttributes(input, BasicFileAttributes.class)
                            .fileKey());
        } catch (NoSuchFileException e) {
            return false;
        }
    }

    private static byte[] fill(FileChannel channel, Content content) throws IOException {
        try (channel;
                DigestOutputStream digested = new DigestOutputStream(Channels.newOutputStream(channel), sha256());
                OutputStream out = new BufferedOutputStream(digested)) {
            content.writeTo(out);
            out.flush();
            channel.force(true);
            return digested.getMessageDigest().digest();
        }
    }

    private static byte[] digest(OpenFolder in, String name) throws IOException {
        try (InputStream written = Channels.newInputStream(in.read(name, false));
                DigestOutputStream digested = new DigestOutputStream(OutputStream.nullOutputStream(), sha256())) {
            written.transferTo(digested);
            return digested.getMessageDigest().digest();
        }
    }

    private static MessageDigest sha256() {
        try {
            return MessageDigest.getInstance("SHA-256");
        } catch (NoSuchAlgorithmException e) {
            throw new IllegalStateException("every Java platform has SHA-256", e);
        }
    }

    private void name(OpenFolder in, Path folder, String fresh) throws IOException {
        if (replaces) {
            refuse(in);
            in.rename(fresh, fileName());
            return;
        }
        try {
            // A hard link appears at once and never replaces what is there.
            Files.createLink(folder.resolve(fileName()), folder.resolve(fresh));
        } catch (FileAlreadyExistsException e) {
            throw e;
        } catch (UnsupportedOperationException | IOException e) {
            // File systems without hard links (a USB stick): whoever makes the name first has it.
            in.create(fileName(), mode).close();
            try {
                in.rename(fresh, fileName());
            } catch (IOException failed) {
                deleteQuietly(in, fileName());
                throw failed;
            }
        }
    }

    private static void deleteQuietly(OpenFolder in, String name) {
        try {
            in.deleteFile(name);
        } catch (IOException e) {
            // It has its own name by now, or the disk is gone: no reason to hide the first error.
            return;
        }
    }

    private DiskException exists() {
        return new DiskException(Kind.EXISTS, file + " exists already and is left as it is; choose another name");
    }

    private DiskException unwritable(IOException e) {
        return new DiskException(
                Kind.UNWRITABLE,
                file + " cannot be written: " + DiskException.reason(e)
                        + "; check the folder's permissions and free space",
                e);
    }

    private static String random() {
        byte[] bytes = new byte[RANDOM_BYTES];
        RANDOM.nextBytes(bytes);
        return HexFormat.of().formatHex(bytes);
    }
}

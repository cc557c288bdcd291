// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.jobsheet;

import dev.loadwitness.runlog.Word;
import dev.loadwitness.runlog.disk.Input;
import java.io.IOException;
import java.io.InputStream;
import java.io.OutputStream;
import java.nio.file.Files;
import java.nio.file.InvalidPathException;
import java.nio.file.LinkOption;
import java.nio.file.Path;
import java.security.DigestInputStream;
import java.security.MessageDigest;
import java.security.NoSuchAlgorithmException;
import java.util.ArrayList;
import java.util.HexFormat;
import java.util.List;

/**
 * A photo of the sheet against the file of its name.
 *
 * @param found SHA-256 of the file; empty if it is not there
 */
public record PhotoCheck(JobSheet.Photo photo, State state, String found) {
    /** No photo is larger; a file that is would keep whoever reads it busy for hours. */
    private static final long MOST_BYTES = 256L << 20;

    /** How the two compare. */
    public enum State implements Word {
        MATCHES,
        /** Another file of that name, or one that was changed. */
        DIFFERS,
        /** Not beside the sheet: nothing is known. */
        NOT_THERE,
        /** There, and the sheet gives no digest. */
        NO_DIGEST
    }

    /**
     * Each photo of the sheet, looked for in {@code folder} and nowhere else; links are not followed.
     *
     * @throws IOException if one is there and cannot be read
     */
    public static List<PhotoCheck> beside(JobSheet sheet, Path folder) throws IOException {
        List<PhotoCheck> checks = new ArrayList<>();
        for (JobSheet.Photo photo : sheet.closing().photos()) {
            checks.add(check(photo, folder));
        }
        return checks;
    }

    private static PhotoCheck check(JobSheet.Photo photo, Path folder) throws IOException {
        Path file;
        try {
            file = folder.resolve(photo.file());
        } catch (InvalidPathException e) {
            return new PhotoCheck(photo, State.NOT_THERE, "");
        }
        if (!Files.isRegularFile(file, LinkOption.NOFOLLOW_LINKS)) {
            return new PhotoCheck(photo, State.NOT_THERE, "");
        }
        String found = sha256(file);
        if (photo.sha256().isEmpty()) {
            return new PhotoCheck(photo, State.NO_DIGEST, found);
        }
        return new PhotoCheck(photo, found.equals(photo.sha256()) ? State.MATCHES : State.DIFFERS, found);
    }

    private static String sha256(Path file) throws IOException {
        try (InputStream in = Input.open(file, Input.Named.BY_PLACE, MOST_BYTES);
                DigestInputStream digest = new DigestInputStream(in, MessageDigest.getInstance("SHA-256"))) {
            digest.transferTo(OutputStream.nullOutputStream());
            return HexFormat.of().formatHex(digest.getMessageDigest().digest());
        } catch (NoSuchAlgorithmException e) {
            throw new IllegalStateException("every Java platform has SHA-256", e);
        }
    }
}

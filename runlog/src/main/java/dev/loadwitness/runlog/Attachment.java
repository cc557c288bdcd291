// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

import java.nio.charset.StandardCharsets;
import java.security.MessageDigest;
import java.security.NoSuchAlgorithmException;
import java.util.HexFormat;

/**
 * A file carried whole inside the header (procedure, job sheet), so that the log needs nothing beside it.
 *
 * @param name the file's name, for messages
 * @param text the file's text, as it was
 * @param sha256 lower-case hex of the SHA-256 of the text's UTF-8 bytes: what {@code sha256sum} prints for the file
 */
public record Attachment(String name, String text, String sha256) {
    /**
     * A file's text with its digest.
     *
     * @param text decoded strictly as UTF-8: a replaced character would give another digest than the file's
     */
    public static Attachment of(String name, String text) {
        try {
            byte[] digest = MessageDigest.getInstance("SHA-256").digest(text.getBytes(StandardCharsets.UTF_8));
            return new Attachment(name, text, HexFormat.of().formatHex(digest));
        } catch (NoSuchAlgorithmException e) {
            throw new IllegalStateException("every Java platform has SHA-256", e);
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

import static java.util.Objects.requireNonNull;

/**
 * A file carried whole inside the header (procedure, job sheet), so that the log needs nothing beside it.
 *
 * @param name the file's name, for messages
 * @param text the file's text, as it was
 * @param sha256 lower-case hex of the SHA-256 of the text's UTF-8 bytes: what {@code sha256sum} prints for the file
 */
public record Attachment(String name, String text, String sha256) {
    public Attachment {
        requireNonNull(name, "name");
        requireNonNull(text, "text");
        requireNonNull(sha256, "sha256");
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import static java.util.Objects.requireNonNull;

import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;

/**
 * A file carried inside the report, compressed.
 *
 * @param name as it is shown and saved, for example {@code run.jsonl}
 * @param mimeType for example {@code application/jsonl}
 * @param relationship what it is to the report
 * @param description one line for people
 * @param bytes whole; how large a log may be is the caller's decision
 */
@SuppressWarnings("ArrayRecordComponent") // a file's bytes, handed through once and never compared
public record EmbeddedFile(String name, String mimeType, Relationship relationship, String description, byte[] bytes) {
    public EmbeddedFile {
        requireNonNull(name, "name");
        requireNonNull(mimeType, "mimeType");
        requireNonNull(relationship, "relationship");
        requireNonNull(description, "description");
        requireNonNull(bytes, "bytes");
    }

    /** A run log: what the report was made from. */
    public static EmbeddedFile runLog(Path file, String name) throws IOException {
        return new EmbeddedFile(
                name,
                "application/jsonl",
                Relationship.SOURCE,
                "The run log that was judged",
                Files.readAllBytes(file));
    }

    /** The same verdict for programs. */
    public static EmbeddedFile verdictJson(byte[] json) {
        return new EmbeddedFile(
                "verdict.json", "application/json", Relationship.DATA, "The verdict of this report as data", json);
    }

    /** {@code AFRelationship} of ISO 32000-2. */
    public enum Relationship {
        /** What the report was made from. */
        SOURCE("Source"),
        /** What the report shows, as data. */
        DATA("Data");

        final String pdfName;

        Relationship(String pdfName) {
            this.pdfName = pdfName;
        }
    }
}

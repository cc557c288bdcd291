// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import static java.util.Objects.requireNonNull;

import java.time.Instant;
import java.util.List;

/**
 * What the report needs beside the verdict.
 *
 * @param issuedAt date of issue, and the only date that the file itself carries; whole seconds count
 * @param program version and build of the program that judges and prints; empty if it is not to be named
 * @param embedded files carried inside, in this order
 */
public record ReportOptions(Instant issuedAt, String program, List<EmbeddedFile> embedded) {
    public ReportOptions {
        requireNonNull(issuedAt, "issuedAt");
        requireNonNull(program, "program");
        embedded = List.copyOf(embedded);
    }

    public static ReportOptions issuedAt(Instant issuedAt) {
        return new ReportOptions(issuedAt, "", List.of());
    }
}

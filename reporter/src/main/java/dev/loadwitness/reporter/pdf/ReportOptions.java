// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import dev.loadwitness.reporter.pdf.paper.EmbeddedFile;
import dev.loadwitness.reporter.pdf.paper.Paper;
import java.time.Instant;
import java.util.List;
import java.util.Locale;
import java.util.Optional;

/**
 * What the report needs beside the verdict.
 *
 * @param issuedAt date of issue, and the only date that the file itself carries; whole seconds count
 * @param program version and build of the program that judges and prints; empty if it is not to be named
 * @param paper what it is laid out for
 * @param locale how dates and numbers are written, and in which language if there is a translation; see
 *     {@link ReportPdf#knows}
 * @param corrects the report that this one replaces
 * @param signer whose key will sign the file, printed so that it can be compared; empty if it stays unsigned
 * @param embedded files carried inside, in this order
 */
public record ReportOptions(
        Instant issuedAt,
        String program,
        Paper paper,
        Locale locale,
        Optional<Correction> corrects,
        Optional<Signer> signer,
        List<EmbeddedFile> embedded) {
    public ReportOptions {
        embedded = List.copyOf(embedded);
    }

    /** On A4, in English, unsigned, without files inside. */
    public static ReportOptions issuedAt(Instant issuedAt) {
        return new ReportOptions(issuedAt, "", Paper.A4, Locale.ENGLISH, Optional.empty(), Optional.empty(), List.of());
    }

    public ReportOptions by(String program) {
        return new ReportOptions(issuedAt, program, paper, locale, corrects, signer, embedded);
    }

    public ReportOptions on(Paper paper) {
        return new ReportOptions(issuedAt, program, paper, locale, corrects, signer, embedded);
    }

    public ReportOptions in(Locale locale) {
        return new ReportOptions(issuedAt, program, paper, locale, corrects, signer, embedded);
    }

    public ReportOptions correcting(Optional<Correction> corrects) {
        return new ReportOptions(issuedAt, program, paper, locale, corrects, signer, embedded);
    }

    public ReportOptions signedBy(Optional<Signer> signer) {
        return new ReportOptions(issuedAt, program, paper, locale, corrects, signer, embedded);
    }

    public ReportOptions holding(List<EmbeddedFile> embedded) {
        return new ReportOptions(issuedAt, program, paper, locale, corrects, signer, embedded);
    }

    /**
     * A corrected report names the one it replaces, and says what was changed (ISO/IEC 17025:2017, 7.8.8).
     *
     * @param number of the replaced report
     * @param reason one sentence
     */
    public record Correction(String number, String reason) {}

    /**
     * Whose key signs.
     *
     * @param name as it stands in the certificate
     * @param fingerprint SHA-256 of the certificate, 64 hexadecimal digits
     */
    public record Signer(String name, String fingerprint) {}
}

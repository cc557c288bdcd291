// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import dev.loadwitness.reporter.pdf.paper.Paper;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Instant;
import java.util.Locale;

/** Writes every variant of {@link ReportPdfTest}, on both papers, for people to look at: {@code FOLDER}. */
final class WriteVariants {
    private WriteVariants() {}

    public static void main(String[] arguments) throws IOException {
        for (ReportPdfTest.Variant variant : ReportPdfTest.Variant.values()) {
            for (Paper paper : Paper.values()) {
                Files.write(
                        Path.of(arguments[0], variant.name().toLowerCase(Locale.ROOT) + "-" + paper.word() + ".pdf"),
                        ReportPdf.write(
                                variant.verdict,
                                variant.course(),
                                ReportOptions.issuedAt(Instant.parse("2026-11-25T14:03:20Z"))
                                        .on(paper)));
            }
        }
    }
}

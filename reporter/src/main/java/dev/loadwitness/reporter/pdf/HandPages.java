// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import com.lowagie.text.pdf.PdfPTable;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import java.util.List;
import java.util.Optional;

/** Rails and hand checks: measured by a person, so kept apart from what the program measured. */
final class HandPages {
    private final Blocks blocks;
    private final Optional<JobSheet> job;

    HandPages(Blocks blocks, Optional<JobSheet> job) {
        this.blocks = blocks;
        this.job = job;
    }

    void write() {
        rails(job.map(JobSheet::rails).orElse(List.of()));
        checks(job.map(JobSheet::handChecks).orElse(List.of()));
        job.filter(j -> !j.notApplicable().isEmpty()).ifPresent(j -> {
            blocks.heading(blocks.text("na.heading"));
            blocks.bullets(j.notApplicable().entrySet().stream()
                    .map(e -> e.getKey().word() + ": " + e.getValue())
                    .sorted()
                    .toList());
        });
    }

    private void rails(List<JobSheet.Rail> rails) {
        blocks.heading(blocks.text("rails.heading"));
        if (rails.isEmpty()) {
            blocks.paragraph(blocks.text("rails.none"));
            return;
        }
        PdfPTable table = blocks.columns(
                List.of(
                        "rails.column.rail",
                        "rails.column.before",
                        "rails.column.after",
                        "rails.column.voltage",
                        "rails.column.state"),
                36,
                17,
                17,
                15,
                15);
        for (JobSheet.Rail rail : rails) {
            table.addCell(blocks.value(rail.name()));
            table.addCell(blocks.value(blocks.words.scaled(rail.ohmsBefore(), "Ω")));
            table.addCell(blocks.value(blocks.words.scaled(rail.ohmsAfter(), "Ω")));
            table.addCell(blocks.value(blocks.words.number(rail.voltsAfter(), "V")));
            table.addCell(blocks.value(blocks.words.stated(rail.state())));
        }
        blocks.add(table);
    }

    private void checks(List<JobSheet.HandCheck> checks) {
        blocks.heading(blocks.text("checks.heading"));
        if (checks.isEmpty()) {
            blocks.paragraph(blocks.text("checks.none"));
            return;
        }
        PdfPTable table = blocks.table(14, 40, 46);
        for (JobSheet.HandCheck check : checks) {
            table.addCell(blocks.value(blocks.text(check.done() ? "checks.done" : "checks.not-done")));
            table.addCell(blocks.value(check.name()));
            table.addCell(blocks.value(check.note()));
        }
        blocks.add(table);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import com.lowagie.text.pdf.PdfPTable;
import dev.loadwitness.reporter.pdf.paper.Blocks;
import dev.loadwitness.reporter.pdf.paper.Words;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.jobsheet.Rail;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.stream.Collectors;
import java.util.stream.Stream;

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
        photos();
        job.filter(j -> !j.notApplicable().isEmpty()).ifPresent(j -> {
            blocks.heading(blocks.text("na.heading"));
            blocks.bullets(j.notApplicable().entrySet().stream()
                    .map(e -> e.getKey().word() + ": " + e.getValue())
                    .sorted()
                    .toList());
        });
    }

    private void rails(List<Rail> rails) {
        blocks.heading(blocks.text("rails.heading"));
        if (rails.isEmpty()) {
            blocks.paragraph(blocks.text("rails.none"));
            return;
        }
        PdfPTable table = blocks.columns(
                List.of(
                        "rails.column.rail",
                        "rails.column.limits",
                        "rails.column.before",
                        "rails.column.after",
                        "rails.column.known-good"),
                25,
                24,
                17,
                17,
                17);
        for (Rail rail : rails) {
            String kind = rail.kind().map(k -> blocks.text("rails." + k.word())).orElse("");
            table.addCell(blocks.value(
                    Stream.of(rail.title(), kind).filter(t -> !t.isBlank()).collect(Collectors.joining("\n"))));
            table.addCell(blocks.value(limits(rail)));
            table.addCell(blocks.value(reading(rail.before(), OptionalDouble.empty())));
            table.addCell(blocks.value(reading(rail.after(), rail.uncertaintyVolts())));
            table.addCell(blocks.value(reading(rail.knownGood(), OptionalDouble.empty())));
        }
        blocks.add(table);
        blocks.quiet(blocks.text("rails.note"));
        List<JobSheet.Instrument> instruments =
                job.map(j -> j.bench().instruments()).orElse(List.of());
        if (instruments.isEmpty()) {
            blocks.paragraph(blocks.text("instruments.none"));
        } else {
            blocks.bullets(instruments.stream()
                    .map(i -> blocks.text(
                            "instruments.one",
                            i.serial().isBlank() ? i.name() : i.name() + " (" + i.serial() + ")",
                            i.calibration().isBlank() ? blocks.text("open.not-stated") : i.calibration()))
                    .toList());
        }
    }

    private String limits(Rail rail) {
        Words words = blocks.words;
        List<String> said = new ArrayList<>();
        if (rail.nominalVolts().isPresent()) {
            String nominal = words.number(rail.nominalVolts(), "V");
            said.add(
                    rail.toleranceShare().isPresent()
                            ? nominal + " ± "
                                    + words.number(
                                            Words.rounded(rail.toleranceShare().getAsDouble() * 100), "%")
                            : nominal);
        }
        if (rail.voltsLeast().isPresent() || rail.voltsMost().isPresent()) {
            said.add(blocks.text(
                    "rails.between", words.number(rail.voltsLeast(), "V"), words.number(rail.voltsMost(), "V")));
        }
        if (!rail.limitsOrigin().isBlank()) {
            said.add(rail.limitsOrigin());
        }
        return said.isEmpty() ? blocks.text("rails.no-limits") : String.join("\n", said);
    }

    private String reading(Rail.Reading reading, OptionalDouble uncertaintyVolts) {
        Words words = blocks.words;
        List<String> said = new ArrayList<>();
        if (reading.volts().isPresent()) {
            String volts = words.number(reading.volts(), "V");
            said.add(uncertaintyVolts.isPresent() ? volts + " ± " + words.scaled(uncertaintyVolts, "V") : volts);
        }
        if (reading.ohms().isPresent()) {
            said.add(words.scaled(reading.ohms(), "Ω"));
        }
        if (reading.diodeVolts().isPresent()) {
            said.add(blocks.text("rails.diode", words.number(reading.diodeVolts(), "V")));
        }
        return said.isEmpty() ? "–" : String.join("\n", said);
    }

    /** Only their digests go anywhere. */
    private void photos() {
        List<JobSheet.Photo> photos = job.map(j -> j.closing().photos()).orElse(List.of());
        if (photos.isEmpty()) {
            return;
        }
        blocks.heading(blocks.text("photos.heading"));
        PdfPTable table = blocks.columns(List.of("photos.column.file", "photos.column.digest"), 30, 70);
        for (JobSheet.Photo photo : photos) {
            table.addCell(blocks.value(photo.note().isBlank() ? photo.file() : photo.file() + "\n" + photo.note()));
            table.addCell(blocks.exact(blocks.words.stated(photo.sha256())));
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
            table.addCell(blocks.value(blocks.text("checks." + check.state().word())));
            table.addCell(blocks.value(check.name()));
            table.addCell(blocks.value(check.note()));
        }
        blocks.add(table);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.verdict;

import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.jobsheet.JobSheetException;
import dev.loadwitness.runlog.jobsheet.JobSheetReader;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.math.BigDecimal;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.function.Function;

/**
 * A job sheet that was completed after the run, beside the one that the run began with. What is measured by hand comes after
 * the run, so a later sheet is the rule; but it may not quietly become another job, or another mark to be measured against.
 */
final class LaterSheet {
    private LaterSheet() {}

    /**
     * Refuses the sheet of another job.
     *
     * @throws IOException if its ticket is not that of the run
     */
    static void refuseOtherTicket(Header header, JobSheet later) throws IOException {
        if (!header.ticket().isBlank() && !header.ticket().equals(later.ticket())) {
            throw new IOException("the job sheet is for ticket " + later.ticket() + " and the run is of ticket "
                    + header.ticket() + "; give the sheet of this job");
        }
    }

    /** What the reader of the report must know about where the sheet is from; empty if it is the run's own. */
    static List<String> notes(Header header, JobSheet sheet) {
        Optional<Attachment> began = header.jobSheet();
        if (began.map(Attachment::sha256).equals(Optional.of(sheet.sha256()))) {
            return List.of();
        }
        List<String> notes = new ArrayList<>();
        String digest = sheet.sha256().isEmpty() ? "" : " (SHA-256 " + sheet.sha256() + ")";
        if (began.isEmpty()) {
            notes.add("Judged with a job sheet given after the run" + digest + "; the run began without one.");
            return notes;
        }
        notes.add("Judged with a job sheet given after the run" + digest + "; the run began with another (SHA-256 "
                + began.get().sha256() + "), which is in the log.");
        try {
            List<String> changed = changed(
                    JobSheetReader.read(began.get().name(), began.get().text()),
                    sheet,
                    header.withheld().contains("serial"));
            if (!changed.isEmpty()) {
                notes.add("Changed on the job sheet since the run began: " + String.join("; ", changed) + ".");
            }
        } catch (JobSheetException e) {
            notes.add("The job sheet that the run began with cannot be read by this version.");
        }
        return notes;
    }

    /** What identifies the machine or moves a limit; what was open then and is filled in now is no change. */
    private static List<String> changed(JobSheet then, JobSheet now, boolean serialWithheld) {
        List<String> changed = new ArrayList<>();
        text(changed, "make", then, now, s -> s.machine().make());
        text(changed, "model", then, now, s -> s.machine().model());
        String serial = then.machine().serial();
        if (!serial.isEmpty() && !serial.equals(now.machine().serial())) {
            changed.add(
                    serialWithheld
                            ? "another serial number"
                            : "serial number from '" + serial + "' to '"
                                    + now.machine().serial() + "'");
        }
        watts(changed, "rated graphics power", then, now, JobSheet::ratedGraphicsWatts);
        watts(changed, "wall meter, idle", then, now, s -> s.wallMeter().idleWatts());
        watts(changed, "wall meter, soak", then, now, s -> s.wallMeter().soakWatts());
        for (Map.Entry<Criterion, String> entry : now.notApplicable().entrySet()) {
            if (!then.notApplicable().containsKey(entry.getKey())) {
                changed.add(entry.getKey().word() + " declared not applicable");
            }
        }
        return changed;
    }

    private static void text(
            List<String> changed, String what, JobSheet then, JobSheet now, Function<JobSheet, String> field) {
        String before = field.apply(then);
        if (!before.isEmpty() && !before.equals(field.apply(now))) {
            changed.add(what + " from '" + before + "' to '" + field.apply(now) + "'");
        }
    }

    private static void watts(
            List<String> changed, String what, JobSheet then, JobSheet now, Function<JobSheet, OptionalDouble> field) {
        OptionalDouble before = field.apply(then);
        if (before.isPresent() && !before.equals(field.apply(now))) {
            changed.add(what + " from " + said(before) + " to " + said(field.apply(now)));
        }
    }

    private static String said(OptionalDouble watts) {
        return watts.isEmpty()
                ? "open"
                : BigDecimal.valueOf(watts.getAsDouble()).stripTrailingZeros().toPlainString() + " W";
    }
}

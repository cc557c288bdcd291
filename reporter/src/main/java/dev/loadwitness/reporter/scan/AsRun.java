// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.jobsheet.JobSheetException;
import dev.loadwitness.runlog.jobsheet.JobSheetReader;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.ProcedureException;
import dev.loadwitness.runlog.procedure.ProcedureReader;
import java.io.IOException;
import java.io.UncheckedIOException;

/**
 * The procedure as it was run.
 *
 * @param procedure with the durations that it gives the repaired rail
 * @param repairedRail as the job sheet in the log names it; empty if no stage of the procedure asks for it
 */
record AsRun(Procedure procedure, String repairedRail) {
    /** @throws UncheckedIOException if this version cannot read what stands in the header */
    static AsRun of(Header header) {
        try {
            Procedure written = ProcedureReader.read(
                    header.procedure().name(), header.procedure().text());
            String rail = written.railsWithAShare().isEmpty() ? "" : repairedRail(header);
            return new AsRun(written.forRail(rail), rail);
        } catch (ProcedureException e) {
            throw unreadable("procedure", e);
        }
    }

    /** As the sheet in the log says, which the run was planned by; another one given later changes no stage that was run. */
    private static String repairedRail(Header header) {
        if (header.jobSheet().isEmpty()) {
            return "";
        }
        Attachment sheet = header.jobSheet().get();
        try {
            return JobSheetReader.read(sheet.name(), sheet.text()).repairedRail();
        } catch (JobSheetException e) {
            throw unreadable("job sheet", e);
        }
    }

    private static UncheckedIOException unreadable(String what, Exception e) {
        return new UncheckedIOException(new IOException(
                "the " + what + " inside the log cannot be read by this version:\n" + e.getMessage(), e));
    }
}

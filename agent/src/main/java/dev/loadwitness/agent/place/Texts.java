// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.place;

import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import dev.loadwitness.runlog.disk.DiskException;
import dev.loadwitness.runlog.disk.Input;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.jobsheet.JobSheetException;
import dev.loadwitness.runlog.jobsheet.JobSheetReader;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.ProcedureException;
import dev.loadwitness.runlog.procedure.ProcedureReader;
import java.io.IOException;
import java.nio.file.Path;
import java.util.Optional;
import java.util.stream.Collectors;

/** Procedures and job sheets as files: read, checked whole, and kept as they are. */
public final class Texts {
    private static final int MOST_BYTES = 1 << 20;

    private Texts() {}

    /** The procedure that somebody means, by name or by path. */
    public static Path find(String word, Home home) throws Complaint {
        Optional<Path> found = home.procedure(word);
        if (found.isPresent()) {
            return found.get();
        }
        String there = home.procedures().stream().map(Home::name).collect(Collectors.joining(", "));
        throw new Complaint(
                Sysexits.NO_INPUT,
                "there is no procedure '" + word + "' in " + home.thresholds().toAbsolutePath()
                        + (there.isEmpty()
                                ? ", which holds none at all. Give"
                                : "; there are: " + there + ". Name one of these, or give")
                        + " a file's path, ./" + word + ".yaml for example");
    }

    /** The file as it will stand in the log's header. */
    public static Attachment file(Path file) throws Complaint {
        try {
            return Attachment.of(file.getFileName().toString(), Input.text(file, Input.Named.BY_PERSON, MOST_BYTES));
        } catch (DiskException e) {
            boolean unfit = e.kind() == DiskException.Kind.TOO_LARGE || e.kind() == DiskException.Kind.NOT_TEXT;
            throw new Complaint(unfit ? Sysexits.DATA : Sysexits.NO_INPUT, e.getMessage());
        } catch (IOException e) {
            throw new Complaint(
                    Sysexits.NO_INPUT, file + " cannot be read: " + e.getMessage() + "; check its permissions");
        }
    }

    public static Procedure procedure(Attachment text) throws Complaint {
        try {
            return ProcedureReader.read(text.name(), text.text());
        } catch (ProcedureException e) {
            throw Complaint.of(Sysexits.DATA, e);
        }
    }

    public static JobSheet jobSheet(Attachment text) throws Complaint {
        try {
            return JobSheetReader.read(text.name(), text.text());
        } catch (JobSheetException e) {
            throw Complaint.of(Sysexits.DATA, e);
        }
    }
}

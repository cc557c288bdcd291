// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.reporter.pdf.EmbeddedFile;
import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.jobsheet.JobSheetException;
import dev.loadwitness.runlog.jobsheet.JobSheetReader;
import dev.loadwitness.runlog.jobsheet.PhotoCheck;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.ProcedureException;
import dev.loadwitness.runlog.procedure.ProcedureReader;
import java.io.IOException;
import java.nio.charset.CharacterCodingException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.NoSuchFileException;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import picocli.CommandLine.Option;
import picocli.CommandLine.Parameters;

/** The log and whatever else goes into a judgement; shared by the commands that judge. */
final class Inputs {
    private static final long MOST_TEXT_BYTES = 1 << 20;

    /** A log larger than this (some days at 10 Hz) is named by its digest only. */
    private static final long MOST_EMBEDDED_BYTES = 64L << 20;

    @Parameters(paramLabel = "LOG", description = "the run log, for example run.jsonl; its further parts lie beside it")
    Path log;

    @Option(
            names = "--criteria",
            paramLabel = "FILE",
            description = "judge by this procedure's criteria instead of the run's own; the report says so")
    Path criteria;

    @Option(names = "--job", paramLabel = "FILE", description = "job sheet to use instead of the one in the log")
    Path job;

    @Option(
            names = "--earlier",
            paramLabel = "LOG",
            description = "log of an earlier attempt on the same ticket; give it once for each")
    List<Path> earlier = new ArrayList<>();

    Judgement judge(boolean series) throws Complaint {
        Optional<Procedure> other = criteria == null ? Optional.empty() : Optional.of(procedure(criteria));
        Optional<JobSheet> sheet = job == null ? Optional.empty() : Optional.of(jobSheet(job));
        for (Path p : earlier) {
            readable(p);
        }
        readable(log);
        try {
            return Judge.judge(new Judge.Request(log, other, sheet, earlier, series));
        } catch (IOException e) {
            throw new Complaint(Exit.DATA, e.getMessage());
        }
    }

    static void readable(Path file) throws Complaint {
        if (Files.isDirectory(file)) {
            throw new Complaint(
                    Exit.NO_INPUT,
                    file + " is a folder; name the log inside it, for example " + file.resolve("run.jsonl"));
        }
        if (!Files.exists(file)) {
            throw new Complaint(Exit.NO_INPUT, file + ": no such file");
        }
        if (!Files.isReadable(file)) {
            throw new Complaint(Exit.NO_INPUT, file + " cannot be read; check its permissions");
        }
    }

    private static Procedure procedure(Path file) throws Complaint {
        try {
            return ProcedureReader.read(file.getFileName().toString(), text(file));
        } catch (ProcedureException e) {
            throw new Complaint(Exit.DATA, e.getMessage());
        }
    }

    static JobSheet jobSheet(Path file) throws Complaint {
        JobSheet sheet;
        try {
            sheet = JobSheetReader.read(file.getFileName().toString(), text(file));
        } catch (JobSheetException e) {
            throw new Complaint(Exit.DATA, e.getMessage());
        }
        for (PhotoCheck photo : photos(file, sheet)) {
            if (photo.state() == PhotoCheck.State.DIFFERS) {
                throw new Complaint(
                        Exit.DATA,
                        photo.photo().file() + " beside " + file
                                + " is not the photo that the sheet names: its SHA-256 is " + photo.found()
                                + "; put the right one there, or the new digest into the sheet");
            }
        }
        return sheet;
    }

    /** The sheet's photos against what lies beside it. */
    static List<PhotoCheck> photos(Path file, JobSheet sheet) throws Complaint {
        Path folder = file.toAbsolutePath().getParent();
        try {
            return PhotoCheck.beside(sheet, folder);
        } catch (IOException e) {
            throw new Complaint(Exit.NO_INPUT, "a photo beside " + file + " cannot be read: " + e.getMessage());
        }
    }

    static String text(Path file) throws Complaint {
        readable(file);
        try {
            if (Files.size(file) > MOST_TEXT_BYTES) {
                throw new Complaint(Exit.DATA, file + " is larger than 1 MiB; that is no procedure or job sheet");
            }
            return Files.readString(file, StandardCharsets.UTF_8);
        } catch (CharacterCodingException e) {
            throw new Complaint(Exit.DATA, file + " is not UTF-8 text; save it as UTF-8");
        } catch (NoSuchFileException e) {
            throw new Complaint(Exit.NO_INPUT, file + ": no such file");
        } catch (IOException e) {
            throw new Complaint(Exit.NO_INPUT, file + " cannot be read: " + e.getMessage());
        }
    }

    /** Everything that the judgement was made from, as it goes into the report: enough to judge again from it alone. */
    List<EmbeddedFile> evidence(Header header, byte[] verdictJson) throws Complaint {
        EmbeddedFile verdict = new EmbeddedFile(Evidence.VERDICT, EmbeddedFile.Kind.VERDICT, verdictJson);
        List<EmbeddedFile> files = new ArrayList<>();
        try {
            long bytes = 0;
            for (Path p : parts(log)) {
                bytes += Files.size(p);
            }
            for (Path p : earlier) {
                bytes += Files.size(p);
            }
            if (bytes > MOST_EMBEDDED_BYTES) {
                return List.of(verdict);
            }
            for (Path part : parts(log)) {
                files.add(
                        part.equals(log)
                                ? file(part, Evidence.LOG, EmbeddedFile.Kind.RUN_LOG)
                                : file(
                                        part,
                                        Evidence.LOG_PART + (files.size() + 1) + ".jsonl",
                                        EmbeddedFile.Kind.RUN_LOG_PART));
            }
            int number = 1;
            for (Path p : earlier) {
                files.add(file(p, Evidence.EARLIER + number++ + ".jsonl", EmbeddedFile.Kind.EARLIER_LOG));
            }
            if (criteria != null) {
                files.add(file(criteria, Evidence.CRITERIA, EmbeddedFile.Kind.CRITERIA));
            }
            // The log holds it too; as a file of its own it can be opened by whoever has only a PDF reader.
            header.jobSheet()
                    .ifPresent(sheet -> files.add(new EmbeddedFile(
                            Evidence.JOB_SHEET,
                            EmbeddedFile.Kind.JOB_SHEET,
                            sheet.text().getBytes(StandardCharsets.UTF_8))));
            if (job != null) {
                files.add(file(job, Evidence.LATER_JOB_SHEET, EmbeddedFile.Kind.LATER_JOB_SHEET));
            }
        } catch (IOException e) {
            throw new Complaint(Exit.NO_INPUT, "the log cannot be read again to go into the report: " + e.getMessage());
        }
        files.add(verdict);
        return files;
    }

    private static EmbeddedFile file(Path file, String name, EmbeddedFile.Kind kind) throws IOException {
        return new EmbeddedFile(name, kind, Files.readAllBytes(file));
    }

    private static List<Path> parts(Path log) {
        List<Path> parts = new ArrayList<>(List.of(log));
        String name = log.getFileName().toString();
        String stem = name.endsWith(".jsonl") ? name.substring(0, name.length() - ".jsonl".length()) : name;
        for (int k = 2; Files.exists(log.resolveSibling(stem + ".part" + k + ".jsonl")); k++) {
            parts.add(log.resolveSibling(stem + ".part" + k + ".jsonl"));
        }
        return parts;
    }

    /** Names of the files inside a report. */
    static final class Evidence {
        static final String LOG = "run.jsonl";
        static final String LOG_PART = "run.part";
        static final String EARLIER = "earlier-";
        static final String CRITERIA = "criteria.yaml";
        static final String JOB_SHEET = "job-sheet.yaml";
        static final String LATER_JOB_SHEET = "job-sheet-later.yaml";
        static final String REPORT = "report.json";
        static final String VERDICT = "verdict.json";

        private Evidence() {}
    }
}

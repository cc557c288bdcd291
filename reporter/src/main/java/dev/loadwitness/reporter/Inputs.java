// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.reporter.pdf.paper.EmbeddedFile;
import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import dev.loadwitness.runlog.disk.DiskException;
import dev.loadwitness.runlog.disk.Input;
import dev.loadwitness.runlog.file.read.ReadSummary;
import dev.loadwitness.runlog.file.read.RunLogReader;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.jobsheet.JobSheetException;
import dev.loadwitness.runlog.jobsheet.JobSheetReader;
import dev.loadwitness.runlog.jobsheet.PhotoCheck;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.ProcedureException;
import dev.loadwitness.runlog.procedure.ProcedureReader;
import java.io.IOException;
import java.io.PrintWriter;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.security.MessageDigest;
import java.security.NoSuchAlgorithmException;
import java.util.ArrayList;
import java.util.HexFormat;
import java.util.List;
import java.util.Optional;
import picocli.CommandLine.Option;
import picocli.CommandLine.Parameters;

/** The log and whatever else goes into a judgement; shared by the commands that judge. */
final class Inputs {
    /** A procedure or a job sheet. */
    private static final int MOST_TEXT_BYTES = 1 << 20;

    /** Logs larger than this together (some days at 10 Hz), or in more files, are named by their digests only. */
    private static final int MOST_EMBEDDED_BYTES = 64 << 20;

    private static final int MOST_LOG_FILES = 200;

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

    /** What was read of the two, kept because it must be what goes into the report. */
    private String criteriaText = "";

    private String jobText = "";

    Judgement judge(boolean series) throws Complaint {
        Optional<Procedure> other = criteria == null ? Optional.empty() : Optional.of(procedure());
        Optional<JobSheet> sheet = Optional.empty();
        if (job != null) {
            jobText = text(job);
            sheet = Optional.of(jobSheet(job, jobText));
        }
        for (Path p : earlier) {
            refuseFolder(p);
        }
        refuseFolder(log);
        return judged(new Judge.Request(log, other, sheet, earlier, series));
    }

    /** Judges a log that needs nothing else. */
    static Judgement judgeAlone(Path log) throws Complaint {
        refuseFolder(log);
        return judged(Judge.Request.of(log));
    }

    private static Judgement judged(Judge.Request request) throws Complaint {
        try {
            return Judge.judge(request);
        } catch (DiskException e) {
            throw Complaint.of(e);
        } catch (IOException e) {
            throw Complaint.of(Sysexits.DATA, e);
        }
    }

    /** What lies where a part of one of the logs would, and is none. */
    static void nameStrangers(Judgement judgement, PrintWriter err) {
        judgement.scan().read().strangers().forEach(s -> err.println(s.why()));
        judgement.earlier().forEach(read -> read.strangers().forEach(s -> err.println(s.why())));
    }

    /** All files that this command reads, as far as they are known before it begins. */
    List<Path> files() {
        List<Path> files = new ArrayList<>(earlier);
        files.add(log);
        if (criteria != null) {
            files.add(criteria);
        }
        if (job != null) {
            files.add(job);
        }
        return files;
    }

    /** Anything but a file is refused when it is opened; of a folder it is known what was meant. */
    private static void refuseFolder(Path log) throws Complaint {
        if (Files.isDirectory(log)) {
            throw new Complaint(
                    Sysexits.NO_INPUT,
                    log + " is a folder; name the log inside it, for example " + log.resolve("run.jsonl"));
        }
    }

    private Procedure procedure() throws Complaint {
        criteriaText = text(criteria);
        try {
            return ProcedureReader.read(criteria.getFileName().toString(), criteriaText);
        } catch (ProcedureException e) {
            throw Complaint.of(Sysexits.DATA, e);
        }
    }

    static JobSheet jobSheet(Path file) throws Complaint {
        return jobSheet(file, text(file));
    }

    private static JobSheet jobSheet(Path file, String text) throws Complaint {
        JobSheet sheet;
        try {
            sheet = JobSheetReader.read(file.getFileName().toString(), text);
        } catch (JobSheetException e) {
            throw Complaint.of(Sysexits.DATA, e);
        }
        for (PhotoCheck photo : photos(file, sheet)) {
            if (photo.state() == PhotoCheck.State.DIFFERS) {
                throw new Complaint(
                        Sysexits.DATA,
                        photo.photo().file() + " beside " + file
                                + " is not the photo that the sheet names: its SHA-256 is " + photo.found()
                                + "; put the right one there, or the new digest into the sheet");
            }
        }
        return sheet;
    }

    /** The sheet's photos against what lies beside it. */
    static List<PhotoCheck> photos(Path file, JobSheet sheet) throws Complaint {
        Path folder = requireNonNull(file.toAbsolutePath().getParent(), "what was read lies in a folder");
        try {
            return PhotoCheck.beside(sheet, folder);
        } catch (IOException e) {
            throw new Complaint(Sysexits.NO_INPUT, "a photo beside " + file + " cannot be read: " + e.getMessage());
        }
    }

    static String text(Path file) throws Complaint {
        try {
            return Input.text(file, Input.Named.BY_PERSON, MOST_TEXT_BYTES);
        } catch (DiskException e) {
            throw Complaint.of(e);
        } catch (IOException e) {
            throw new Complaint(Sysexits.NO_INPUT, file + " cannot be read: " + e.getMessage());
        }
    }

    /**
     * Everything that the judgement was made from, as it goes into the report: enough to judge again from it alone. What
     * lies there now must be what was judged.
     */
    List<EmbeddedFile> evidence(Judgement judgement, byte[] verdictJson) throws Complaint {
        EmbeddedFile verdict = new EmbeddedFile(Evidence.VERDICT, EmbeddedFile.Kind.VERDICT, verdictJson);
        List<ReadSummary> read = new ArrayList<>(List.of(judgement.scan().read()));
        read.addAll(judgement.earlier());
        if (read.stream().mapToLong(ReadSummary::bytes).sum() > MOST_EMBEDDED_BYTES
                || read.stream().mapToInt(r -> r.parts().size()).sum() > MOST_LOG_FILES) {
            return List.of(verdict);
        }
        List<EmbeddedFile> files = new ArrayList<>();
        try {
            embed(log, Evidence.LOG, EmbeddedFile.Kind.RUN_LOG, read.get(0), files);
            for (int i = 0; i < earlier.size(); i++) {
                String name = Evidence.EARLIER + (i + 1) + ".jsonl";
                embed(earlier.get(i), name, EmbeddedFile.Kind.EARLIER_LOG, read.get(i + 1), files);
            }
        } catch (IOException e) {
            throw new Complaint(
                    Sysexits.NO_INPUT, "a log cannot be read again to go into the report: " + e.getMessage());
        }
        if (criteria != null) {
            files.add(file(Evidence.CRITERIA, EmbeddedFile.Kind.CRITERIA, criteriaText));
        }
        // The log holds it too; as a file of its own it can be opened by whoever has only a PDF reader.
        judgement
                .verdict()
                .header()
                .jobSheet()
                .ifPresent(sheet -> files.add(file(Evidence.JOB_SHEET, EmbeddedFile.Kind.JOB_SHEET, sheet.text())));
        if (job != null) {
            files.add(file(Evidence.LATER_JOB_SHEET, EmbeddedFile.Kind.LATER_JOB_SHEET, jobText));
        }
        files.add(verdict);
        return files;
    }

    private static EmbeddedFile file(String name, EmbeddedFile.Kind kind, String text) {
        return new EmbeddedFile(name, kind, text.getBytes(StandardCharsets.UTF_8));
    }

    /** The files of one log that were read, and no others, under their own numbers. */
    private static void embed(Path log, String name, EmbeddedFile.Kind kind, ReadSummary read, List<EmbeddedFile> files)
            throws IOException, Complaint {
        for (int i = 0; i < read.parts().size(); i++) {
            int number = read.parts().get(i);
            Path file = RunLogReader.part(log, number);
            byte[] bytes =
                    Input.bytes(file, number == 1 ? Input.Named.BY_PERSON : Input.Named.BY_PLACE, MOST_EMBEDDED_BYTES);
            if (!sha256(bytes).equals(read.sha256().get(i))) {
                throw new Complaint(
                        Sysexits.NO_INPUT,
                        file
                                + " changed after it was judged; nothing was written. Wait until its run is over, or take a"
                                + " copy of the log, and try again");
            }
            files.add(
                    number == 1
                            ? new EmbeddedFile(name, kind, bytes)
                            : new EmbeddedFile(
                                    name.replace(".jsonl", ".part" + number + ".jsonl"),
                                    kind == EmbeddedFile.Kind.RUN_LOG ? EmbeddedFile.Kind.RUN_LOG_PART : kind,
                                    bytes));
        }
    }

    private static String sha256(byte[] bytes) {
        try {
            return HexFormat.of().formatHex(MessageDigest.getInstance("SHA-256").digest(bytes));
        } catch (NoSuchAlgorithmException e) {
            throw new IllegalStateException("every Java runtime has SHA-256", e);
        }
    }

    /** Names of the files inside a report. */
    static final class Evidence {
        static final String LOG = "run.jsonl";
        static final String EARLIER = "earlier-";
        static final String CRITERIA = "criteria.yaml";
        static final String JOB_SHEET = "job-sheet.yaml";
        static final String LATER_JOB_SHEET = "job-sheet-later.yaml";
        static final String REPORT = "report.json";
        static final String VERDICT = "verdict.json";

        private Evidence() {}
    }
}

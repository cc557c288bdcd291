// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.session;

import dev.loadwitness.agent.place.Home;
import dev.loadwitness.agent.procedure.Terms;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import dev.loadwitness.runlog.file.write.WriterListener;
import dev.loadwitness.runlog.file.write.WriterOptions;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import java.io.IOException;
import java.nio.file.Path;
import java.time.Instant;
import java.util.ArrayList;
import java.util.List;
import org.jspecify.annotations.Nullable;
import picocli.CommandLine.Option;

/** What {@code run} and {@code observe} have in common. */
public final class RunOptions {
    public static final int LOG_MEMORY_KIB = 4096;
    public static final double COLDEST = -20;
    public static final double HOTTEST = 60;

    @Option(
            names = "--out",
            paramLabel = "DIR",
            description = {
                "folder for the log, made if it is not there; must not hold a run already (default: "
                        + "runs/TICKET/DATE-AND-TIME, on the stick if this program lies on one, else here)"
            })
    public Path out;

    @Option(names = "--ticket", paramLabel = "T", description = "the bench's number for the job")
    public @Nullable String ticket;

    @Option(
            names = "--ambient",
            paramLabel = "C",
            description = "room temperature in degrees Celsius, taken 30 cm from the air intake")
    public @Nullable Double ambientCelsius;

    @Option(
            names = "--ambient-how",
            paramLabel = "TEXT",
            defaultValue = "thermometer, 30 cm from the air intake",
            description = "how the room temperature was taken (default: ${DEFAULT-VALUE})")
    String ambientHow;

    @Option(
            names = "--job",
            paramLabel = "FILE",
            description = "job sheet; see job-sheet.yaml on the stick, docs/examples/ elsewhere")
    public Path job;

    @Option(
            names = "--nonce",
            paramLabel = "WORD",
            defaultValue = "",
            description = "a word from the bench computer, which proves that the run is younger than it")
    String nonce;

    @Option(
            names = "--withhold",
            paramLabel = "WHAT,...",
            split = ",",
            hideParamSyntax = true,
            description = "leave out of the log: serial, host, or both (serial,host)")
    public List<String> withhold = new ArrayList<>();

    @Option(
            names = "--journal",
            paramLabel = "FILE",
            description = {
                "where attempts on a ticket are remembered (default: runs/loadwitness-journal.jsonl for "
                        + "all logs below runs/, else loadwitness-journal.jsonl beside DIR)"
            })
    public Path journal;

    @Option(
            names = "--work-dir",
            paramLabel = "DIR",
            description = {
                "keep the log in a folder of DIR on the internal disk while the run goes on, and copy it "
                        + "to --out at its end, for a stick that is too slow; DIR's copy then goes"
            })
    Path workDir;

    @Option(
            names = "--wait-for-log",
            paramLabel = "SECONDS",
            description = {
                "how long to wait at the end for a log's disk that was pulled or is full (default: until "
                        + "Ctrl-C on a terminal, else 600)"
            })
    Integer waitForLog;

    @Option(
            names = "--log-memory",
            hidden = true,
            defaultValue = "" + LOG_MEMORY_KIB,
            description =
                    "KiB of memory for records that wait for the disk; small in checks, which cannot wait for hours")
    public int logMemoryKib;

    /** How the log is written. */
    public WriterOptions writer(WriterListener listener) {
        return WriterOptions.defaults(listener).withQueueBytes(logMemoryKib * 1024L);
    }

    long waitForLogSeconds() {
        return waitForLog == null ? 600 : waitForLog;
    }

    /** Whether stages that ask for something by hand are left out. */
    public boolean skipAsks;

    /** Whether a run that is taken up again may begin a journal: only one that was named, for a stick may be missing. */
    public boolean journalMayBeMade;

    /** Whether somebody said with an option that the cautions were read. */
    public boolean attended;

    /** Digest of the {@link Terms} that somebody was shown by an earlier call and agrees to; empty for none. */
    public String asShown = "";

    /** Where the log goes, or will go: without {@code --out}, the folder of the ticket's runs. */
    public Path place(Home home) {
        return out != null ? out : home.ticketFolder(ticket == null ? "" : ticket);
    }

    /** Makes the default folder if none was named. Called when nothing stands against the run any more. */
    public void settle(Home home) throws Complaint {
        if (out == null) {
            try {
                out = home.makeRunFolder(ticket == null ? "" : ticket, Instant.now());
            } catch (IOException e) {
                throw new Complaint(
                        Sysexits.CANNOT_CREATE,
                        "no folder for the log can be made in " + home.runs() + ": " + e + "; name another with --out");
            }
        }
        // One for the whole stick, or a ticket's failed attempt would be forgotten by naming another folder on it.
        if (journal == null && plain(out).startsWith(plain(home.runs()))) {
            journal = home.journal();
        }
    }

    private static Path plain(Path path) {
        return path.toAbsolutePath().normalize();
    }

    /** The job sheet's ticket serves where none was given. */
    public void ticketFrom(JobSheet sheet) throws Complaint {
        if (ticket == null && !sheet.ticket().isEmpty()) {
            ticket = sheet.ticket();
        } else if (ticket != null && !sheet.ticket().isEmpty() && !ticket.equals(sheet.ticket())) {
            throw new Complaint(
                    Sysexits.USAGE,
                    "--ticket says " + ticket + " and the job sheet says " + sheet.ticket() + "; make them the same");
        }
    }

    /** What picocli's types do not check. */
    public void check() throws Complaint {
        if (ambientCelsius != null && !(ambientCelsius >= COLDEST && ambientCelsius <= HOTTEST)) {
            throw new Complaint(
                    Sysexits.USAGE,
                    "--ambient is " + ambientCelsius + "; a room has between -20 and 60 degrees Celsius");
        }
        if (waitForLog != null && waitForLog < 0) {
            throw new Complaint(Sysexits.USAGE, "--wait-for-log is " + waitForLog + "; give seconds, 0 or more");
        }
        for (String what : withhold) {
            if (!what.equals("serial") && !what.equals("host")) {
                throw new Complaint(
                        Sysexits.USAGE, "--withhold does not know '" + what + "'; give serial, host, or serial,host");
            }
        }
    }
}

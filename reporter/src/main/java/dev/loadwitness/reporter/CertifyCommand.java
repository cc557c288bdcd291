// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.reporter.pdf.ReportOptions;
import dev.loadwitness.reporter.pdf.ReportPdf;
import dev.loadwitness.reporter.scan.At;
import dev.loadwitness.reporter.scan.Mark;
import dev.loadwitness.reporter.scan.NotedEvent;
import dev.loadwitness.reporter.scan.Scan;
import dev.loadwitness.reporter.scan.StageSpan;
import dev.loadwitness.reporter.signature.PdfSigner;
import dev.loadwitness.reporter.signature.SigningException;
import dev.loadwitness.reporter.signature.SigningKey;
import dev.loadwitness.reporter.text.VerdictJson;
import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.EventKind;
import java.io.IOException;
import java.io.PrintWriter;
import java.nio.file.Files;
import java.nio.file.Path;
import java.nio.file.StandardCopyOption;
import java.time.Instant;
import java.time.temporal.ChronoUnit;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.EnumSet;
import java.util.List;
import java.util.Set;
import java.util.concurrent.Callable;
import picocli.CommandLine.Command;
import picocli.CommandLine.Mixin;
import picocli.CommandLine.Model.CommandSpec;
import picocli.CommandLine.Option;
import picocli.CommandLine.ParameterException;
import picocli.CommandLine.Spec;

@Command(
        name = "certify",
        description = {
            "Judges a run and writes the signed report. Only a pass is titled certificate.",
            "The log, the verdict and whatever else was judged from go into the report, so that 'verify' can judge again."
        },
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        exitCodeListHeading = "%nExit status:%n",
        exitCodeList = {
            " 0:the report was written, pass",
            " 1:the report was written, fail",
            " 2:the report was written, inconclusive",
            "64:wrong usage",
            "65:the log is damaged or was altered (the report is written and says so), or an input has mistakes in it",
            "66:an input file cannot be read, the key among them",
            "73:the report cannot be written"
        },
        footer = {
            "",
            "Example:",
            "  loadwitness-reporter certify runs/FBR-2026-0142-2/run.jsonl --out FBR-2026-0142.pdf \\",
            "      --key bench-key.p12 --earlier runs/FBR-2026-0142-1/run.jsonl"
        })
final class CertifyCommand implements Callable<Integer> {
    /** Events that explain what a curve does. */
    private static final Set<EventKind> MARKED = EnumSet.of(
            EventKind.ADAPTER_OFF,
            EventKind.ADAPTER_ON,
            EventKind.LIMIT_CHANGED,
            EventKind.SAFETY_STOP,
            EventKind.OPERATOR_STOP,
            EventKind.COMPUTE_ERROR,
            EventKind.MEMORY_ERROR,
            EventKind.WORKER_DIED,
            EventKind.WORKER_STALLED,
            EventKind.SUSPENDED,
            EventKind.HANG,
            EventKind.WITNESS_STALLED,
            EventKind.DEVICE_LEFT);

    private static final int MOST_MARKS = 40;

    @Spec
    private CommandSpec spec;

    @Mixin
    private Inputs inputs;

    @Mixin
    private Keys keys;

    @Option(names = "--out", required = true, paramLabel = "FILE", description = "the PDF to write")
    private Path out;

    @Option(names = "--key", paramLabel = "FILE", description = "PKCS#12 file to sign with; see signing-key")
    private Path key;

    @Option(names = "--unsigned", description = "write the report without a signature")
    private boolean unsigned;

    @Option(names = "--quiet", description = "do not repeat the verdict")
    private boolean quiet;

    @Override
    public Integer call() throws Complaint {
        if ((key == null) != unsigned) {
            throw new ParameterException(
                    spec.commandLine(), "give --key, or --unsigned for a report without a signature");
        }
        if (Files.exists(out)) {
            throw new Complaint(Exit.CANNOT_CREATE, out + " exists already; choose another with --out");
        }
        Judgement judgement = inputs.judge(true);
        Verdict verdict = judgement.verdict();
        Instant now = Instant.now().truncatedTo(ChronoUnit.SECONDS);
        byte[] pdf = ReportPdf.write(
                verdict,
                judgement.scan().series(),
                spans(judgement.scan()),
                marks(judgement.scan()),
                new ReportOptions(now, Version.text(), inputs.evidence(VerdictJson.write(verdict))));
        // A simulated run is no evidence about any machine: it is never signed.
        boolean sign = !unsigned && !verdict.header().simulated();
        write(sign ? signed(pdf, now, verdict) : pdf);
        PrintWriter writer = spec.commandLine().getOut();
        if (!quiet) {
            writer.println(verdict.sentence());
            writer.println("Verdict: " + verdict.outcome().word());
            if (!sign) {
                writer.println(
                        unsigned
                                ? "Not signed, as asked."
                                : "Not signed: a simulated run says nothing about a machine.");
            }
        }
        writer.println(out);
        writer.flush();
        return Exit.of(judgement);
    }

    private byte[] signed(byte[] pdf, Instant at, Verdict verdict) throws Complaint {
        char[] passphrase = keys.passphrase(false);
        try {
            SigningKey signer = SigningKey.load(key, passphrase);
            return PdfSigner.sign(
                    pdf, signer, at, "Burn-in report, run " + verdict.header().runId());
        } catch (SigningException e) {
            throw new Complaint(Exit.NO_INPUT, e.getMessage());
        } finally {
            Arrays.fill(passphrase, ' ');
        }
    }

    /** First beside its place, then moved there: whoever finds the report finds a whole one. */
    private void write(byte[] pdf) throws Complaint {
        Path beside = out.resolveSibling(out.getFileName() + ".part");
        try {
            Files.write(beside, pdf);
            Files.move(beside, out, StandardCopyOption.ATOMIC_MOVE);
        } catch (IOException e) {
            throw new Complaint(
                    Exit.CANNOT_CREATE, out + " cannot be written: " + e.getMessage() + "; choose another with --out");
        }
    }

    private static List<StageSpan> spans(Scan scan) {
        return scan.stages().stream()
                .map(s -> new StageSpan(
                        s.stage().id(),
                        s.begin().segment(),
                        s.begin().seconds(),
                        s.end().seconds(),
                        s.why()))
                .toList();
    }

    private static List<Mark> marks(Scan scan) {
        List<Mark> marks = new ArrayList<>();
        for (int i = 0; i < scan.segments().size(); i++) {
            At last = scan.segments().get(i).last();
            boolean goesOn = i + 1 < scan.segments().size();
            if (last != null && (goesOn || scan.close().isEmpty())) {
                marks.add(new Mark(last.segment(), last.seconds(), goesOn ? "shut off" : "log breaks off"));
            }
        }
        scan.events().stream()
                .filter(e -> e.event().known().filter(MARKED::contains).isPresent())
                .limit(MOST_MARKS)
                .map(CertifyCommand::mark)
                .forEach(marks::add);
        return marks;
    }

    private static Mark mark(NotedEvent e) {
        return new Mark(e.at().segment(), e.at().seconds(), e.event().kind().replace('-', ' '));
    }
}

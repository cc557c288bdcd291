// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.pdf.ReportOptions;
import dev.loadwitness.reporter.pdf.ReportPdf;
import dev.loadwitness.reporter.pdf.paper.Paper;
import dev.loadwitness.reporter.signature.PdfSigner;
import dev.loadwitness.reporter.signature.SigningException;
import dev.loadwitness.reporter.signature.SigningKey;
import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.Shown;
import dev.loadwitness.runlog.Word;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import java.io.PrintWriter;
import java.nio.file.Path;
import java.time.Instant;
import java.time.temporal.ChronoUnit;
import java.util.Locale;
import java.util.Optional;
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
            "70:a defect of this program, or not enough memory for Java: nothing was decided",
            "73:the report cannot be written"
        },
        footer = {
            "",
            "Example:",
            "  loadwitness-reporter certify runs/FBR-2026-0142-2/run.jsonl --out FBR-2026-0142.pdf \\",
            "      --key bench-key.p12 --earlier runs/FBR-2026-0142-1/run.jsonl"
        })
final class CertifyCommand implements Callable<Integer> {
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

    @Option(
            names = "--paper",
            paramLabel = "SIZE",
            defaultValue = "a4",
            description = "paper to lay it out for: a4 or letter (default: a4)")
    private String paper;

    @Option(
            names = "--locale",
            paramLabel = "TAG",
            defaultValue = "en",
            description = "how dates and numbers are written, for example de or en-US; the words too, where there is a"
                    + " translation (default: en, with dates as 2026-11-25)")
    private String locale;

    @Option(
            names = "--replaces",
            paramLabel = "NUMBER",
            description = "number of the report that this one corrects; it is named on page 1")
    private String replaces;

    @Option(
            names = "--reason",
            paramLabel = "TEXT",
            description = "what was corrected and why, in a sentence; goes with --replaces")
    private String reason;

    @Option(names = "--quiet", description = "do not repeat the verdict")
    private boolean quiet;

    @Override
    public Integer call() throws Complaint {
        if ((key == null) != unsigned) {
            throw new ParameterException(
                    spec.commandLine(), "give --key, or --unsigned for a report without a signature");
        }
        Output file = Output.to(out, "--out");
        file.check();
        ReportOptions layout = layout();
        Judgement judgement = inputs.judge(true);
        Inputs.nameStrangers(judgement, spec.commandLine().getErr());
        Verdict verdict = judgement.verdict();
        // A simulated run is no evidence about any machine: it is never signed.
        boolean sign = !unsigned && !verdict.header().simulated();
        ReportOptions options;
        if (sign) {
            SigningKey signer = keys.open(key, spec.commandLine().getErr());
            options = layout.signedBy(
                    Optional.of(new ReportOptions.Signer(signer.subject(), signer.sha256Fingerprint())));
            file.write(signed(Report.pdf(judgement, inputs, options), signer, options, verdict));
        } else {
            options = layout;
            file.write(Report.pdf(judgement, inputs, options));
        }
        PrintWriter writer = spec.commandLine().getOut();
        if (!quiet) {
            writer.println(Shown.line(verdict.sentence()));
            writer.println("Verdict: " + verdict.outcome().word()
                    + (verdict.outcome() == Outcome.PASS ? "" : "; this is a report, not a certificate"));
            writer.println("Report number: " + ReportPdf.number(verdict, options));
            options.signer()
                    .ifPresent(s -> writer.println("Fingerprint of the key, for the invoice: " + s.fingerprint()));
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

    private ReportOptions layout() {
        Optional<Paper> size = Word.find(Paper.class, paper.toLowerCase(Locale.ROOT));
        if (size.isEmpty()) {
            throw new ParameterException(spec.commandLine(), "--paper is " + paper + "; give a4 or letter");
        }
        Locale style = Locale.forLanguageTag(locale);
        if (!ReportPdf.knows(style)) {
            throw new ParameterException(
                    spec.commandLine(), "--locale is " + locale + "; known are " + ReportPdf.knownLocales());
        }
        if ((replaces == null) != (reason == null)) {
            throw new ParameterException(
                    spec.commandLine(), "give --replaces and --reason together: a correction says what it corrects");
        }
        return ReportOptions.issuedAt(now())
                .by(Version.text())
                .on(size.get())
                .in(style)
                .correcting(Optional.ofNullable(replaces).map(number -> new ReportOptions.Correction(number, reason)));
    }

    /** The time of issue; whoever needs the same bytes again gives it as reproducible-builds.org asks. */
    private Instant now() {
        String given = System.getenv("SOURCE_DATE_EPOCH");
        if (given == null) {
            return Instant.now().truncatedTo(ChronoUnit.SECONDS);
        }
        if (!given.matches("[0-9]{1,11}")) {
            throw new ParameterException(
                    spec.commandLine(),
                    "SOURCE_DATE_EPOCH is " + given + "; give whole seconds since 1970, or unset it");
        }
        return Instant.ofEpochSecond(Long.parseLong(given));
    }

    private static byte[] signed(byte[] pdf, SigningKey signer, ReportOptions options, Verdict verdict)
            throws Complaint {
        try {
            return PdfSigner.sign(pdf, signer, options.issuedAt(), Report.reason(verdict, options));
        } catch (SigningException e) {
            throw Complaint.of(Sysexits.NO_INPUT, e);
        }
    }
}

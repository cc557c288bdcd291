// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.reporter.signature.PdfAttachments;
import dev.loadwitness.reporter.signature.PdfSignatureCheck;
import dev.loadwitness.reporter.signature.SigningException;
import dev.loadwitness.reporter.signature.TrustedSigners;
import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import dev.loadwitness.runlog.disk.DiskException;
import dev.loadwitness.runlog.disk.Input;
import java.io.IOException;
import java.io.InputStream;
import java.io.PrintWriter;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.util.Arrays;
import java.util.Locale;
import java.util.Map;
import java.util.concurrent.Callable;
import picocli.CommandLine.Command;
import picocli.CommandLine.Model.CommandSpec;
import picocli.CommandLine.Option;
import picocli.CommandLine.Parameters;
import picocli.CommandLine.Spec;

@Command(
        name = "verify",
        description = {
            "Checks a report: its signature, the chain of the log inside it, the verdict, judged again from that log, and the"
                    + " pages, printed again from that verdict.",
            "Of a log it checks the chain."
        },
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        exitCodeListHeading = "%nExit status:%n",
        exitCodeList = {
            " 0:genuine: signature, chain, verdict and pages hold (of a log: whole and closed)",
            " 1:not genuine: the report was changed, its verdict or its pages are not those that this version makes of its log,"
                    + " or it was not signed by who was asked for",
            " 2:not decided: no signature, no log inside, or a log that was never closed",
            "64:wrong usage",
            "65:neither a report of ours nor a run log, or a log that is damaged or was altered",
            "66:the file cannot be read",
            "70:a defect of this program, or not enough memory for Java: nothing was decided"
        },
        footer = {"", "Example:", "  loadwitness-reporter verify FBR-2026-0142.pdf --trusted fernhollow.pem"})
final class VerifyCommand implements Callable<Integer> {
    /** No report of ours is larger: logs of 64 MiB at most go into it, and those compressed. */
    private static final int MOST_PDF_BYTES = 96 << 20;

    private static final int MOST_EVIDENCE_BYTES = 80 << 20;
    private static final byte[] PDF_MAGIC = "%PDF-".getBytes(StandardCharsets.US_ASCII);

    private static final String SELF_SIGNED = """
              What that proves: whoever holds the key with this fingerprint signed exactly these bytes.
              What it does not: who that is (the key vouches for its own name), when it was, or that the run was honest.""";

    private static final String COMPARE =
            "So compare the fingerprint with the one on the invoice, or give --fingerprint or --trusted.";

    private static final String ISSUED = """
              What that proves: whoever holds the key with this fingerprint signed exactly these bytes. The name was
              vouched for by the issuer, if you trust it: give its certificate with --trusted.
              What it does not: when it was, or that the run was honest.""";

    @Spec
    private CommandSpec spec;

    @Parameters(paramLabel = "FILE", description = "a report (PDF) or a run log")
    private Path file;

    @Option(
            names = "--fingerprint",
            paramLabel = "HEX",
            description = "SHA-256 fingerprint of the key that must have signed, as the shop handed it out")
    private String fingerprint;

    @Option(
            names = "--trusted",
            paramLabel = "FILE",
            description = "certificate (PEM or DER) that must have signed, or have issued the one that did")
    private Path trusted;

    @Override
    public Integer call() throws Complaint {
        checkFingerprint();
        try {
            int status = isPdf() ? report() : log();
            out().flush();
            return status;
        } catch (DiskException e) {
            throw Complaint.of(e);
        } catch (IOException e) {
            throw new Complaint(Sysexits.NO_INPUT, file + " cannot be read: " + e.getMessage());
        }
    }

    private PrintWriter out() {
        return spec.commandLine().getOut();
    }

    private void checkFingerprint() throws Complaint {
        if (fingerprint != null && !wanted().matches("[0-9a-f]{64}")) {
            throw new Complaint(Sysexits.USAGE, "--fingerprint has " + wanted().length() + " of 64 hexadecimal digits");
        }
    }

    private String wanted() {
        return fingerprint.replaceAll("[^0-9A-Fa-f]", "").toLowerCase(Locale.ROOT);
    }

    /** What nobody signed was not signed by who was asked for either. */
    private int unsigned(String what) {
        if (fingerprint == null && trusted == null) {
            return Exit.INCONCLUSIVE;
        }
        out().println("Signer: NOT the one asked for: " + what + ".");
        return Exit.FAIL;
    }

    private boolean isPdf() throws IOException {
        try (InputStream in = Input.open(file, Input.Named.BY_PERSON, Long.MAX_VALUE)) {
            return Arrays.equals(in.readNBytes(PDF_MAGIC.length), PDF_MAGIC);
        }
    }

    private int log() throws Complaint {
        int signer = unsigned("this is a run log, and only reports are signed");
        Judgement judgement = Inputs.judgeAlone(file);
        Inputs.nameStrangers(judgement, spec.commandLine().getErr());
        if (judgement.damaged()) {
            out().println("The chain is broken: the log is damaged or was altered.");
            judgement
                    .scan()
                    .read()
                    .damages()
                    .forEach(d ->
                            out().println("  " + d.place() + ": " + d.kind().word() + ", " + d.detail()));
            return Sysexits.DATA;
        }
        boolean closed = judgement.scan().read().closed();
        out().println("The chain is whole" + (closed ? " and the log is closed." : ", but the log was never closed."));
        out().println("Last chain value: " + judgement.scan().read().lastChain());
        out().println("A chain shows damage. It proves nothing against whoever held the log before it was signed.");
        return signer == Exit.FAIL ? signer : closed ? Exit.PASS : Exit.INCONCLUSIVE;
    }

    private int report() throws IOException, Complaint {
        byte[] pdf = Input.bytes(file, Input.Named.BY_PERSON, MOST_PDF_BYTES);
        PdfSignatureCheck.Result signature = PdfSignatureCheck.check(pdf);
        int bySignature = say(signature);
        if (bySignature == Exit.FAIL) {
            return bySignature;
        }
        Map<String, byte[]> inside;
        try {
            inside = PdfAttachments.read(pdf, MOST_EVIDENCE_BYTES);
        } catch (SigningException e) {
            out().println("The files inside cannot be read: " + e.getMessage());
            return Sysexits.DATA;
        }
        return worse(bySignature, new ReportCheck(pdf, inside, signature, out()).status());
    }

    private int say(PdfSignatureCheck.Result signature) throws Complaint {
        if (signature instanceof PdfSignatureCheck.NotSigned) {
            out().println("Not signed.");
            return unsigned("nobody signed this report");
        }
        if (signature instanceof PdfSignatureCheck.Broken broken) {
            out().println("Signature: BROKEN: " + broken.reason());
            unsigned("a broken signature shows no signer");
            return Exit.FAIL;
        }
        PdfSignatureCheck.Valid valid = (PdfSignatureCheck.Valid) signature;
        out().println("Signature: valid, covers the whole file, unchanged since");
        int signer = worse(byFingerprint(valid), byCertificate(valid));
        out().println("  signed by    " + valid.subject() + (valid.selfSigned() ? " (self-signed)" : ""));
        out().println("  fingerprint  " + valid.sha256Fingerprint());
        out().println("  signed at    " + valid.claimedAt() + " (by the signer's own clock)");
        out().println(valid.selfSigned() ? SELF_SIGNED : ISSUED);
        if (valid.selfSigned() && fingerprint == null && trusted == null) {
            out().println(COMPARE);
        }
        return signer;
    }

    private int byFingerprint(PdfSignatureCheck.Valid valid) {
        if (fingerprint == null) {
            return Exit.PASS;
        }
        boolean same = wanted().equals(valid.sha256Fingerprint());
        out().println(
                        same
                                ? "Signer: the one asked for."
                                : "Signer: NOT the one asked for: the fingerprint of the key that signed is another.");
        return same ? Exit.PASS : Exit.FAIL;
    }

    private int byCertificate(PdfSignatureCheck.Valid valid) throws Complaint {
        if (trusted == null) {
            return Exit.PASS;
        }
        try {
            return switch (TrustedSigners.load(trusted).of(valid)) {
                case ITSELF -> {
                    out().println("Signer: the certificate in " + trusted + ".");
                    yield Exit.PASS;
                }
                case BY_ISSUER -> {
                    out().println("Signer: issued under a certificate in " + trusted + " (revocation was not asked).");
                    yield Exit.PASS;
                }
                case NOT -> {
                    out().println("Signer: NOT one that " + trusted + " vouches for.");
                    yield Exit.FAIL;
                }
            };
        } catch (SigningException e) {
            throw Complaint.of(Sysexits.NO_INPUT, e);
        }
    }

    /** Not genuine outweighs not decided. */
    private static int worse(int one, int other) {
        return one == Exit.FAIL || other == Exit.FAIL ? Exit.FAIL : Math.max(one, other);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.reporter.signature.PdfAttachments;
import dev.loadwitness.reporter.signature.PdfSignatureCheck;
import dev.loadwitness.reporter.signature.SigningException;
import dev.loadwitness.reporter.text.VerdictJson;
import dev.loadwitness.reporter.verdict.Judgement;
import java.io.IOException;
import java.io.InputStream;
import java.io.PrintWriter;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.Comparator;
import java.util.Locale;
import java.util.Map;
import java.util.concurrent.Callable;
import java.util.stream.Stream;
import picocli.CommandLine.Command;
import picocli.CommandLine.Model.CommandSpec;
import picocli.CommandLine.Option;
import picocli.CommandLine.Parameters;
import picocli.CommandLine.Spec;

@Command(
        name = "verify",
        description = {
            "Checks a report: its signature, the chain of the log inside it, and the verdict, judged again from that log.",
            "Of a log it checks the chain."
        },
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        exitCodeListHeading = "%nExit status:%n",
        exitCodeList = {
            " 0:genuine: signature, chain and verdict hold (of a log: whole and closed)",
            " 1:not genuine: the report was changed, or its verdict does not follow from its log",
            " 2:not decided: no signature, no log inside, another method version, or a log that was never closed",
            "64:wrong usage",
            "65:neither a report of ours nor a run log, or a log that is damaged or was altered",
            "66:the file cannot be read"
        },
        footer = {"", "Example:", "  loadwitness-reporter verify FBR-2026-0142.pdf --fingerprint 3f5a..."})
final class VerifyCommand implements Callable<Integer> {
    private static final long MOST_PDF_BYTES = 256L << 20;
    private static final long MOST_EVIDENCE_BYTES = 512L << 20;
    private static final byte[] PDF_MAGIC = "%PDF-".getBytes(StandardCharsets.US_ASCII);

    @Spec
    private CommandSpec spec;

    @Parameters(paramLabel = "FILE", description = "a report (PDF) or a run log")
    private Path file;

    @Option(
            names = "--fingerprint",
            paramLabel = "HEX",
            description = "SHA-256 fingerprint of the key that must have signed, as the shop handed it out")
    private String fingerprint;

    private PrintWriter out;

    @Override
    public Integer call() throws Complaint {
        out = spec.commandLine().getOut();
        Inputs.readable(file);
        try {
            int status = isPdf() ? report() : log();
            out.flush();
            return status;
        } catch (IOException e) {
            throw new Complaint(Exit.NO_INPUT, file + " cannot be read: " + e.getMessage());
        }
    }

    private boolean isPdf() throws IOException {
        try (InputStream in = Files.newInputStream(file)) {
            return Arrays.equals(in.readNBytes(PDF_MAGIC.length), PDF_MAGIC);
        }
    }

    private int log() throws Complaint {
        Inputs inputs = new Inputs();
        inputs.log = file;
        Judgement judgement = inputs.judge(false);
        if (judgement.damaged()) {
            out.println("The chain is broken: the log is damaged or was altered.");
            judgement
                    .scan()
                    .read()
                    .damages()
                    .forEach(d -> out.println("  " + d.place() + ": " + d.kind().word() + ", " + d.detail()));
            return Exit.DATA;
        }
        boolean closed = judgement.scan().read().closed();
        out.println("The chain is whole" + (closed ? " and the log is closed." : ", but the log was never closed."));
        out.println("Last chain value: " + judgement.scan().read().lastChain());
        out.println("A chain shows damage. It proves nothing against whoever held the log before it was signed.");
        return closed ? Exit.PASS : Exit.INCONCLUSIVE;
    }

    private int report() throws IOException, Complaint {
        if (Files.size(file) > MOST_PDF_BYTES) {
            throw new Complaint(Exit.DATA, file + " is larger than 256 MiB; no report of ours is");
        }
        byte[] pdf = Files.readAllBytes(file);
        PdfSignatureCheck.Result signature = PdfSignatureCheck.check(pdf);
        int bySignature = say(signature);
        if (bySignature == Exit.FAIL) {
            return bySignature;
        }
        Map<String, byte[]> inside;
        try {
            inside = PdfAttachments.read(pdf, MOST_EVIDENCE_BYTES);
        } catch (SigningException e) {
            out.println("The files inside cannot be read: " + e.getMessage());
            return Exit.DATA;
        }
        return Math.max(bySignature, judgeAgain(inside));
    }

    private int say(PdfSignatureCheck.Result signature) throws Complaint {
        if (signature instanceof PdfSignatureCheck.NotSigned) {
            out.println("Not signed.");
            return Exit.INCONCLUSIVE;
        }
        if (signature instanceof PdfSignatureCheck.Broken broken) {
            out.println("Signature: BROKEN: " + broken.reason());
            return Exit.FAIL;
        }
        PdfSignatureCheck.Valid valid = (PdfSignatureCheck.Valid) signature;
        out.println("Signature: valid, covers the whole file, unchanged since");
        out.println("  signed by    " + valid.subject() + (valid.selfSigned() ? " (self-signed)" : ""));
        out.println("  fingerprint  " + valid.sha256Fingerprint());
        out.println("  signed at    " + valid.claimedAt() + " (by the signer's own clock)");
        if (fingerprint == null) {
            if (valid.selfSigned()) {
                out.println("  Compare the fingerprint with the one that the shop handed out, or give --fingerprint.");
            }
            return Exit.PASS;
        }
        String wanted = fingerprint.replaceAll("[^0-9A-Fa-f]", "").toLowerCase(Locale.ROOT);
        if (!wanted.matches("[0-9a-f]{64}")) {
            throw new Complaint(Exit.USAGE, "--fingerprint has " + wanted.length() + " of 64 hexadecimal digits");
        }
        if (!wanted.equals(valid.sha256Fingerprint())) {
            out.println("Signer: NOT the one asked for.");
            return Exit.FAIL;
        }
        out.println("Signer: the one asked for.");
        return Exit.PASS;
    }

    private int judgeAgain(Map<String, byte[]> inside) throws IOException, Complaint {
        byte[] stated = inside.get(Inputs.Evidence.VERDICT);
        if (stated == null || !inside.containsKey(Inputs.Evidence.LOG)) {
            out.println("No run log inside: the verdict cannot be judged again.");
            return Exit.INCONCLUSIVE;
        }
        Path folder = Files.createTempDirectory("loadwitness-verify");
        try {
            Judgement judgement = unpacked(inside, folder).judge(false);
            out.println("Log inside: " + (judgement.damaged() ? "DAMAGED or altered" : "chain whole"));
            byte[] again = VerdictJson.write(judgement.verdict());
            if (!Arrays.equals(again, stated)) {
                boolean sameMethod = new String(stated, StandardCharsets.UTF_8)
                        .contains("\"methodVersion\" : \"" + judgement.verdict().methodVersion() + "\"");
                out.println(
                        sameMethod
                                ? "Verdict: does NOT follow from the log inside."
                                : "Verdict: made by another version of the method; judged by this one it is "
                                        + judgement.verdict().outcome().word() + ".");
                return sameMethod ? Exit.FAIL : Exit.INCONCLUSIVE;
            }
            out.println("Verdict: " + judgement.verdict().outcome().word()
                    + ", judged again from the log inside with the same result.");
            out.println("  " + judgement.verdict().sentence());
            return Exit.PASS;
        } finally {
            delete(folder);
        }
    }

    private static Inputs unpacked(Map<String, byte[]> inside, Path folder) throws IOException {
        Inputs inputs = new Inputs();
        inputs.earlier = new ArrayList<>();
        for (Map.Entry<String, byte[]> e : inside.entrySet()) {
            if (!e.getKey().matches("[a-z0-9-]+(\\.part[0-9]+)?\\.(jsonl|json|yaml)")) {
                continue; // not a name that a report of ours uses, and perhaps a path out of this folder
            }
            Path file = folder.resolve(e.getKey());
            Files.write(file, e.getValue());
            switch (e.getKey()) {
                case Inputs.Evidence.LOG -> inputs.log = file;
                case Inputs.Evidence.CRITERIA -> inputs.criteria = file;
                case Inputs.Evidence.JOB_SHEET -> inputs.job = file;
                default -> {
                    if (e.getKey().startsWith(Inputs.Evidence.EARLIER)) {
                        inputs.earlier.add(file);
                    }
                }
            }
        }
        inputs.earlier.sort(Comparator.comparing(Path::toString));
        return inputs;
    }

    private static void delete(Path folder) throws IOException {
        try (Stream<Path> files = Files.walk(folder)) {
            for (Path p : files.sorted(Comparator.reverseOrder()).toList()) {
                Files.delete(p);
            }
        }
    }
}

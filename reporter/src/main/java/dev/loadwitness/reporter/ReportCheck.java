// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.reporter.pdf.ReportOptions;
import dev.loadwitness.reporter.signature.PdfSignatureCheck;
import dev.loadwitness.reporter.text.ReportJson;
import dev.loadwitness.reporter.text.VerdictJson;
import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.runlog.Shown;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.disk.Folder;
import dev.loadwitness.runlog.disk.NewFile;
import java.io.IOException;
import java.io.PrintWriter;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.security.SecureRandom;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.Comparator;
import java.util.HexFormat;
import java.util.Map;
import java.util.regex.Matcher;
import java.util.regex.Pattern;

/**
 * Judges again what lies inside a report and prints its pages again. A verdict or pages that cannot be made again here are
 * not genuine, whatever the report gives as the reason: whoever holds a key can write any reason there.
 */
final class ReportCheck {
    private static final String BELIEVE = "Believe the verdict above, not the pages.";

    /** Of what the report says about itself; and how far into a verdict the method's version is looked for. */
    private static final int FACTS_BYTES_MOST = 1 << 16;

    private static final Pattern METHOD = Pattern.compile("\"methodVersion\" : \"([0-9A-Za-z.-]{1,20})\"");

    private final byte[] pdf;
    private final Map<String, byte[]> inside;
    private final PdfSignatureCheck.Result signature;
    private final PrintWriter out;

    /** @param inside the files in the report, by name */
    ReportCheck(byte[] pdf, Map<String, byte[]> inside, PdfSignatureCheck.Result signature, PrintWriter out) {
        this.pdf = pdf;
        this.inside = inside;
        this.signature = signature;
        this.out = out;
    }

    /** Says what was found, and gives the exit status for it, the signature left out of account. */
    int status() throws IOException, Complaint {
        byte[] stated = inside.get(Inputs.Evidence.VERDICT);
        if (stated == null || !inside.containsKey(Inputs.Evidence.LOG)) {
            out.println("No run log inside: nothing here shows that verdict and pages follow from one.");
            return Exit.INCONCLUSIVE;
        }
        Path folder =
                Folder.at(Path.of(System.getProperty("java.io.tmpdir"))).makeNew("loadwitness-verify-" + random());
        try {
            Inputs inputs = unpacked(folder);
            Judgement judgement;
            try {
                judgement = inputs.judge(true);
            } catch (Complaint e) {
                out.println("Log inside: CANNOT be judged here: "
                        + String.valueOf(e.getMessage()).replace(folder + "/", ""));
                return Exit.FAIL;
            }
            out.println("Log inside: " + (judgement.damaged() ? "DAMAGED or altered" : "chain whole"));
            if (!Arrays.equals(VerdictJson.write(judgement.verdict()), stated)) {
                sayWhatTheLogGives(judgement);
                out.println(anotherVerdict(judgement.verdict().methodVersion(), stated));
                return Exit.FAIL;
            }
            out.println("Verdict: " + judgement.verdict().outcome().word()
                    + ", judged again from the log inside with the same result.");
            out.println("  " + Shown.line(judgement.verdict().sentence()));
            return pages(judgement, inputs);
        } finally {
            delete(folder);
        }
    }

    private void sayWhatTheLogGives(Judgement judgement) {
        out.println("Judged here, the log inside gives: "
                + judgement.verdict().outcome().word() + ".");
        out.println("  " + Shown.line(judgement.verdict().sentence()));
    }

    private static String anotherVerdict(String methodHere, byte[] stated) {
        Matcher method = METHOD.matcher(
                new String(stated, 0, Math.min(stated.length, FACTS_BYTES_MOST), StandardCharsets.UTF_8));
        if (!method.find() || method.group(1).equals(methodHere)) {
            return "Verdict: the one in the report does NOT follow from the log inside.";
        }
        return "Verdict: NOT checked: the one in the report names method " + method.group(1)
                + ", and this program judges by "
                + methodHere + ". Anybody can write that there: believe the result above, not the pages, or check the"
                + " report with the version of this program that made it.";
    }

    /** The pages follow from the verdict too: made again, they must be the same bytes, and nothing but the signature follows. */
    private int pages(Judgement judgement, Inputs inputs) throws Complaint {
        byte[] reportJson = inside.get(Inputs.Evidence.REPORT);
        if (reportJson == null || reportJson.length > FACTS_BYTES_MOST) {
            out.println("Pages: NOT checked: the report does not say how they were laid out. " + BELIEVE);
            return Exit.FAIL;
        }
        try {
            ReportJson facts = ReportJson.read(reportJson);
            if (signature instanceof PdfSignatureCheck.Valid valid
                    && !facts.fingerprint().equals(valid.sha256Fingerprint())) {
                out.println("Pages: they name ANOTHER key than the one that signed.");
                return Exit.FAIL;
            }
            ReportOptions options = Report.options(facts);
            byte[] again = Report.pdf(judgement, inputs, options);
            boolean same = signature instanceof PdfSignatureCheck.Valid
                    ? PdfSignatureCheck.isOnlySigned(
                            pdf, again, facts.issuedAt(), Report.reason(judgement.verdict(), options))
                    : Arrays.equals(pdf, again);
            if (same) {
                out.println("Pages: report " + facts.number()
                        + ", byte for byte what this program prints for that verdict.");
                return Exit.PASS;
            }
            out.println("Pages: " + otherPages(again, facts.program()) + " " + BELIEVE);
            return Exit.FAIL;
        } catch (IOException e) {
            out.println("Pages: NOT checked: they cannot be printed again: " + e.getMessage() + ". " + BELIEVE);
            return Exit.FAIL;
        }
    }

    private String otherPages(byte[] again, String program) {
        if (pdf.length >= again.length && Arrays.equals(pdf, 0, again.length, again, 0, again.length)) {
            return "REPLACED: behind the report as this program prints it stands more than a signature, which can show"
                    + " other pages.";
        }
        if (!program.equals(Version.text())) {
            return "NOT checked: they name another version of this program (" + program
                    + "), and this one prints others."
                    + " Anybody can write that there; to check them, use that version.";
        }
        return "NOT byte for byte what this program prints for that verdict: they were made in another way, or on a Java"
                + " runtime that compresses in another way.";
    }

    private Inputs unpacked(Path folder) throws IOException {
        Inputs inputs = new Inputs();
        inputs.earlier = new ArrayList<>();
        for (Map.Entry<String, byte[]> e : inside.entrySet()) {
            if (!e.getKey().matches("[a-z0-9-]+(\\.part[0-9]+)?\\.(jsonl|json|yaml)")) {
                continue; // not a name that a report of ours uses, and perhaps a path out of this folder
            }
            Path file = folder.resolve(e.getKey());
            NewFile.at(file).secret().write(e.getValue());
            switch (e.getKey()) {
                case Inputs.Evidence.LOG -> inputs.log = file;
                case Inputs.Evidence.CRITERIA -> inputs.criteria = file;
                case Inputs.Evidence.LATER_JOB_SHEET -> inputs.job = file;
                default -> {
                    if (e.getKey().matches(Inputs.Evidence.EARLIER + "[0-9]+\\.jsonl")) {
                        inputs.earlier.add(file);
                    }
                }
            }
        }
        inputs.earlier.sort(
                Comparator.comparingInt((Path p) -> p.toString().length()).thenComparing(Path::toString));
        return inputs;
    }

    private static void delete(Path folder) throws IOException {
        for (String name : Folder.at(folder).names()) {
            Folder.at(folder).delete(name);
        }
        Folder.removeEmpty(folder);
    }

    private static String random() {
        byte[] bytes = new byte[16];
        new SecureRandom().nextBytes(bytes);
        return HexFormat.of().formatHex(bytes);
    }
}

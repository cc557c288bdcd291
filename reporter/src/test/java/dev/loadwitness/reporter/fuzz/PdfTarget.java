// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.fuzz;

import com.lowagie.text.pdf.AcroFields;
import com.lowagie.text.pdf.PdfName;
import com.lowagie.text.pdf.PdfReader;
import dev.loadwitness.reporter.Commands;
import dev.loadwitness.reporter.Commands.Said;
import dev.loadwitness.reporter.signature.PdfAttachments;
import dev.loadwitness.reporter.signature.PdfSigner;
import dev.loadwitness.reporter.signature.SigningException;
import dev.loadwitness.reporter.signature.SigningKey;
import dev.loadwitness.reporter.text.ReportJson;
import java.io.IOException;
import java.io.UncheckedIOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.nio.file.attribute.PosixFilePermissions;
import java.time.Instant;
import java.util.Arrays;
import java.util.List;

/**
 * Reports changed where a PDF has a structure, through {@code verify}. Half of them are the pages of a signed report, changed
 * and signed anew by its key, for its time and reason: nothing but the changed pages tells them from a genuine one.
 */
final class PdfTarget implements Target {
    private static final String PASSPHRASE = "six words that nobody would guess";

    private SigningKey key;
    private byte[] unsigned;
    private byte[] signed;
    private byte[] beforeSigning;
    private Instant signedAt;
    private String reason;

    @Override
    public List<String> packages() {
        return List.of("dev.loadwitness.reporter.signature");
    }

    @Override
    public String extension() {
        return "pdf";
    }

    @Override
    public int eachCommand() {
        return 1; // there is only one
    }

    @Override
    public void warmUp() {
        make();
        Oracle.hold(check(signed, true).startsWith("0"), "the seed is not genuine");
        Oracle.hold(check(unsigned, true).startsWith("2"), "the unsigned seed is not undecided");
        Oracle.hold(Arrays.equals(signedAnew(beforeSigning), signed), "the seed signed anew is not the seed");
    }

    private void make() {
        try {
            Path file = Scratch.FOLDER.resolve("key.p12");
            Path words = Scratch.FOLDER.resolve("passphrase");
            Path log = Scratch.FOLDER.resolve("run.jsonl");
            Path report = Scratch.FOLDER.resolve("seed.pdf");
            Files.writeString(words, PASSPHRASE + "\n");
            Files.setPosixFilePermissions(words, PosixFilePermissions.fromString("rw-------"));
            Files.write(log, LogMutation.seed());
            ok("signing-key", "--out", file.toString(), "--name", "Fernhollow", "--passphrase-file", words.toString());
            key = SigningKey.load(file, PASSPHRASE.toCharArray());
            List<String> certify = List.of("certify", log.toString(), "--out", report.toString());
            ok(certify, "--key", file.toString(), "--passphrase-file", words.toString());
            signed = Files.readAllBytes(report);
            Files.delete(report);
            ok(certify, "--unsigned");
            unsigned = Files.readAllBytes(report);
            beforeSigning = firstRevision(signed);
            signedAt = ReportJson.read(
                            PdfAttachments.read(signed, Integer.MAX_VALUE).get("report.json"))
                    .issuedAt();
            try (PdfReader reader = new PdfReader(signed)) {
                AcroFields fields = reader.getAcroFields();
                reason = fields.getSignatureDictionary(
                                fields.getSignedFieldNames().get(0))
                        .getAsString(PdfName.REASON)
                        .toUnicodeString();
            }
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        } catch (SigningException e) {
            throw new IllegalStateException(e);
        }
    }

    private static byte[] firstRevision(byte[] pdf) {
        String end = "%%EOF\n";
        return Arrays.copyOf(pdf, new String(pdf, StandardCharsets.ISO_8859_1).indexOf(end) + end.length());
    }

    private static void ok(List<String> first, String... more) {
        String[] all = Arrays.copyOf(first.toArray(String[]::new), first.size() + more.length);
        System.arraycopy(more, 0, all, first.size(), more.length);
        ok(all);
    }

    private static void ok(String... arguments) {
        Said said = Commands.run(arguments);
        if (said.status() > 2) {
            throw new IllegalStateException(said.out() + said.err());
        }
    }

    @Override
    public byte[] input(Choices choices) {
        return switch (choices.below(4)) {
            case 0 -> PdfMutation.of(signed, choices);
            case 1 -> PdfMutation.of(unsigned, choices);
            default -> signedAnew(PdfMutation.of(beforeSigning, choices));
        };
    }

    private byte[] signedAnew(byte[] pdf) {
        try {
            return PdfSigner.sign(pdf, key, signedAt, reason);
        } catch (SigningException e) {
            // Too broken to be signed: then as it is. The key itself must do, or nothing here would ever be signed.
            Oracle.visible(e.getMessage(), "certify's complaint");
            Oracle.hold(!e.getMessage().contains("certificate"), e.getMessage());
            return pdf;
        } catch (RuntimeException | StackOverflowError e) {
            return pdf; // OpenPDF's: `certify` signs only what it has printed itself, and promises nothing for this
        }
    }

    @Override
    public String check(byte[] pdf, boolean everyCommand) {
        Path file = Scratch.FOLDER.resolve("given.pdf");
        try {
            Files.write(file, pdf);
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
        Said said = Oracle.command(file, pdf, List.of("verify", file.toString()));
        if (said.status() == 0 && signed != null) {
            Oracle.hold(Arrays.equals(pdf, signed), "a changed report is called genuine: " + said.out());
        }
        return said.status() + " " + (said.out() + said.err()).replaceAll("[0-9a-f]{8,}|[0-9]+|/\\S+", "#");
    }
}

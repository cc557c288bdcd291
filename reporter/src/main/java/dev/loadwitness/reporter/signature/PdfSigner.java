// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import com.lowagie.text.DocumentException;
import com.lowagie.text.pdf.PdfArray;
import com.lowagie.text.pdf.PdfDate;
import com.lowagie.text.pdf.PdfDictionary;
import com.lowagie.text.pdf.PdfLiteral;
import com.lowagie.text.pdf.PdfName;
import com.lowagie.text.pdf.PdfObject;
import com.lowagie.text.pdf.PdfReader;
import com.lowagie.text.pdf.PdfSignature;
import com.lowagie.text.pdf.PdfSignatureAppearance;
import com.lowagie.text.pdf.PdfStamper;
import com.lowagie.text.pdf.PdfString;
import java.io.ByteArrayOutputStream;
import java.io.IOException;
import java.io.InputStream;
import java.nio.charset.StandardCharsets;
import java.time.Instant;
import java.time.temporal.ChronoUnit;
import java.util.Arrays;
import java.util.Calendar;
import java.util.GregorianCalendar;
import java.util.HashMap;
import java.util.HexFormat;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.TimeZone;

/** Adds an invisible signature (PAdES baseline B) to a finished PDF. */
public final class PdfSigner {
    /** An elliptic signature has one of about three lengths; it is made anew until it has the one left room for. */
    private static final int TRIES_MOST = 2000;

    private static final int LENGTH_SAMPLES = 8;

    private PdfSigner() {}

    /**
     * Signs a PDF that this program wrote itself and that has no signature yet. With an RSA key equal inputs give equal
     * bytes.
     *
     * @param at the time that the signature claims, cut to whole seconds; the document's modification date becomes the
     *     same, so its XMP metadata must already say this instant
     * @param reason shown by readers beside the signature
     * @throws SigningException if {@code at} lies outside the certificate's validity, or the bytes cannot be signed
     */
    public static byte[] sign(byte[] pdf, SigningKey key, Instant at, String reason) throws SigningException {
        Instant claimed = at.truncatedTo(ChronoUnit.SECONDS);
        if (claimed.isBefore(key.notBefore())) {
            throw new SigningException("The certificate of " + key.subject() + " is valid only from " + key.notBefore()
                    + ", and the report is of " + claimed + ". Check the clock, or use another key.");
        }
        if (claimed.isAfter(key.notAfter())) {
            throw new SigningException("The certificate of " + key.subject() + " expired at " + key.notAfter()
                    + ", and the report is of " + claimed + ". Make a new key with `signing-key`.");
        }
        if (!(PdfSignatureCheck.check(pdf) instanceof PdfSignatureCheck.NotSigned)) {
            throw new SigningException("This PDF has a signature already. Sign the unsigned report.");
        }
        int length = 0;
        byte[] anything = new byte[Cms.digest(key.kind().digestName).length];
        for (int i = 0; i < (key.kind() == SignatureKind.RSA ? 1 : LENGTH_SAMPLES); i++) {
            length = Math.max(length, cms(key, anything).length);
        }
        int room = length;
        return stampInRootLocale(
                pdf,
                claimed,
                reason,
                room,
                covered -> cmsOfLength(key, Cms.digest(key.kind().digestName, covered), room));
    }

    /**
     * What {@link #sign} makes of the same bytes with a signature of this length, but zeros in the signature's place.
     *
     * @throws SigningException if the bytes cannot be signed
     */
    static byte[] signedWithZeros(byte[] pdf, Instant at, String reason, int length) throws SigningException {
        return stampInRootLocale(pdf, at.truncatedTo(ChronoUnit.SECONDS), reason, length, covered -> new byte[length]);
    }

    /** Makes the signature over the covered bytes. */
    private interface Maker {
        byte[] cms(byte[] covered) throws SigningException;
    }

    /**
     * OpenPDF 2.0.5 writes its table of contents with the default locale's digits: under an Arabic one the file would be
     * broken. The default is process-wide, so it is put back, and only one thread signs at a time.
     */
    private static synchronized byte[] stampInRootLocale(byte[] pdf, Instant at, String reason, int length, Maker maker)
            throws SigningException {
        Locale before = Locale.getDefault(Locale.Category.FORMAT);
        Locale.setDefault(Locale.Category.FORMAT, Locale.ROOT);
        try {
            return stamp(pdf, at, reason, length, maker);
        } catch (IOException | DocumentException e) {
            throw new SigningException("The PDF cannot be signed: " + e.getMessage(), e);
        } finally {
            Locale.setDefault(Locale.Category.FORMAT, before);
        }
    }

    private static byte[] stamp(byte[] pdf, Instant at, String reason, int length, Maker maker)
            throws IOException, DocumentException, SigningException {
        Calendar date = new GregorianCalendar(TimeZone.getTimeZone("UTC"), Locale.ROOT);
        date.setTimeInMillis(at.toEpochMilli());
        ByteArrayOutputStream out = new ByteArrayOutputStream(pdf.length + 4 * length);
        PdfReader reader = new PdfReader(pdf);
        PdfStamper stamper = PdfStamper.createSignature(reader, out, '\0', null, true);
        stamper.setEnforcedModificationDate(date);
        stamper.setOverrideFileId(fileId(reader, pdf, at));
        PdfSignatureAppearance appearance = stamper.getSignatureAppearance();
        appearance.setSignDate(date);
        appearance.setCertificationLevel(PdfSignatureAppearance.CERTIFIED_NO_CHANGES_ALLOWED);
        appearance.setSignatureEvent(PdfSigner::withoutMd5);
        PdfSignature dictionary = new PdfSignature(PdfName.ADOBE_PPKLITE, new PdfName("ETSI.CAdES.detached"));
        dictionary.setDate(new PdfDate(date));
        dictionary.put(PdfName.REASON, new PdfString(reason, PdfObject.TEXT_UNICODE));
        appearance.setCryptoDictionary(dictionary);
        Map<PdfName, Integer> room = new HashMap<>();
        room.put(PdfName.CONTENTS, 2 * length + 2);
        appearance.preClose(room);
        byte[] signed;
        try (InputStream in = appearance.getRangeStream()) {
            signed = in.readAllBytes();
        }
        PdfDictionary contents = new PdfDictionary();
        contents.put(PdfName.CONTENTS, new PdfString(maker.cms(signed)).setHexWriting(true));
        appearance.close(contents);
        reader.close();
        return out.toByteArray();
    }

    /** Keeps the first half, which names the document; derives the second from its bytes instead of the clock. */
    private static PdfObject fileId(PdfReader reader, byte[] pdf, Instant at) {
        byte[] digest = Cms.digest("SHA-256", pdf, at.toString().getBytes(StandardCharsets.US_ASCII));
        byte[] revision = Arrays.copyOf(digest, 16);
        PdfArray old = reader.getTrailer().getAsArray(PdfName.ID);
        byte[] first =
                old == null || old.size() == 0 ? revision : old.getAsString(0).getOriginalBytes();
        HexFormat hex = HexFormat.of();
        return new PdfLiteral("[<" + hex.formatHex(first) + "><" + hex.formatHex(revision) + ">]");
    }

    /** OpenPDF adds MD5 digests to a certification, which PDF/A forbids and nobody reads. */
    private static void withoutMd5(PdfDictionary signature) {
        PdfArray references = signature.getAsArray(PdfName.REFERENCE);
        for (int i = 0; references != null && i < references.size(); i++) {
            PdfDictionary reference = references.getAsDict(i);
            for (String name : List.of("DigestValue", "DigestLocation", "DigestMethod")) {
                reference.remove(new PdfName(name));
            }
        }
    }

    private static byte[] cmsOfLength(SigningKey key, byte[] digest, int length) throws SigningException {
        for (int i = 0; i < TRIES_MOST; i++) {
            byte[] cms = cms(key, digest);
            if (cms.length == length) {
                return cms;
            }
        }
        throw new SigningException("No signature of " + length + " bytes came in " + TRIES_MOST + " tries. Try again.");
    }

    private static byte[] cms(SigningKey key, byte[] digest) throws SigningException {
        List<byte[]> chain = Cms.inReadersOrder(key.encodedChain());
        byte[] signature = key.sign(Cms.signedAttributes(key.kind(), chain, digest));
        return Cms.assemble(key.kind(), chain, digest, signature);
    }
}

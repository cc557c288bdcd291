// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import java.io.IOException;
import java.math.BigInteger;
import java.nio.charset.StandardCharsets;
import java.security.GeneralSecurityException;
import java.security.MessageDigest;
import java.security.cert.X509Certificate;
import java.time.DateTimeException;
import java.time.Instant;
import java.time.LocalDateTime;
import java.time.ZoneOffset;
import java.time.format.DateTimeFormatter;
import java.time.format.ResolverStyle;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.HexFormat;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Set;
import org.bouncycastle.asn1.ASN1EncodableVector;
import org.bouncycastle.asn1.ASN1Encoding;
import org.bouncycastle.asn1.ASN1Integer;
import org.bouncycastle.asn1.DERSequence;
import org.jspecify.annotations.Nullable;

/**
 * Checks the one signature that {@link PdfSigner} adds. Stricter than common readers: anything that this program would
 * not have written is broken, even where others overlook it. Whether the signer is who the name says is not decided
 * here: compare the fingerprint.
 */
public final class PdfSignatureCheck {
    /** What was found. */
    public sealed interface Result permits NotSigned, Valid, Broken {}

    /** A PDF without any trace of a signature. */
    public record NotSigned() implements Result {}

    /**
     * Every byte is as it was when the holder of this certificate's key signed.
     *
     * @param subject the name in the certificate (RFC 2253), as claimed by whoever issued it
     * @param sha256Fingerprint of the certificate, lower-case hexadecimal
     * @param selfSigned whether nobody but the signer vouches for that name
     * @param claimedAt the time the signer's own clock gave; nobody else vouches for it
     * @param chain the certificates in the signature, the signer's first, the others in no order; not judged here
     */
    public record Valid(
            String subject,
            String sha256Fingerprint,
            boolean selfSigned,
            Instant claimedAt,
            List<X509Certificate> chain)
            implements Result {
        public Valid {
            chain = List.copyOf(chain);
        }
    }

    /** There is a signature, or a trace of one, and it does not hold. */
    public record Broken(String reason) implements Result {}

    private static final String BYTE_RANGE = "/ByteRange";
    private static final List<String> TRACES = List.of("ETSI.CAdES.detached", "/SigFlags", "/DocMDP", "/FT/Sig");
    private static final String BEFORE_CONTENTS = "/Contents ";
    /** The signature's own object: certificates in hexadecimal make most of it. */
    private static final int OBJECT_BYTES_MOST = 1 << 17;

    private static final int CERTIFICATES_MOST = 8;
    private static final Set<String> KEYS =
            Set.of("Type", "Filter", "SubFilter", "M", "Reason", "Reference", "ByteRange", "Contents");
    private static final DateTimeFormatter DATE =
            DateTimeFormatter.ofPattern("'D:'uuuuMMddHHmmss'Z'", Locale.ROOT).withResolverStyle(ResolverStyle.STRICT);
    private static final int USAGE_DIGITAL_SIGNATURE = 0;
    private static final int USAGE_NON_REPUDIATION = 1;

    private PdfSignatureCheck() {}

    /** Never throws, whatever the bytes are; memory stays a small multiple of their number. */
    public static Result check(byte[] pdf) {
        try {
            return checked(pdf);
        } catch (SigningException e) {
            return new Broken(String.valueOf(e.getMessage()));
        } catch (RuntimeException e) {
            // The certificate parser is not ours and promises nothing for hostile input.
            return new Broken("the signature cannot be read");
        }
    }

    /**
     * Whether a file whose signature is {@link Valid} is nothing but {@code unsigned} and that signature. It is signed anew,
     * with zeros for the signature, and every byte outside the signature's own must be the same: what was slipped in
     * between, an object that replaces another one among it, is some other byte.
     *
     * @param at the time, and {@code reason} the reason, that it must have been signed with
     */
    public static boolean isOnlySigned(byte[] pdf, byte[] unsigned, Instant at, String reason) {
        try {
            int mark = indexOf(pdf, BYTE_RANGE, 0);
            int[] gap = gap(pdf, dictionaryAround(pdf, mark).get("ByteRange"));
            byte[] again = PdfSigner.signedWithZeros(unsigned, at, reason, contents(pdf, gap, mark).length);
            return again.length == pdf.length
                    && Arrays.equals(again, 0, gap[0], pdf, 0, gap[0])
                    && Arrays.equals(again, gap[1], pdf.length, pdf, gap[1], pdf.length);
        } catch (SigningException e) {
            return false;
        }
    }

    private static Result checked(byte[] pdf) throws SigningException {
        if (!startsWith(pdf, 0, "%PDF-")) {
            return new Broken("this is not a PDF file");
        }
        int mark = indexOf(pdf, BYTE_RANGE, 0);
        if (mark < 0) {
            for (String trace : TRACES) {
                if (indexOf(pdf, trace, 0) >= 0) {
                    return new Broken("there are traces of a signature (" + trace + ") but no signature");
                }
            }
            return new NotSigned();
        }
        if (indexOf(pdf, BYTE_RANGE, mark + 1) >= 0) {
            return new Broken("there is more than one signature; this program makes exactly one");
        }
        Map<String, PdfValue> dictionary = dictionaryAround(pdf, mark);
        int[] gap = gap(pdf, dictionary.get("ByteRange"));
        byte[] cms = contents(pdf, gap, mark);
        Instant claimedAt = time(dictionary.get("M"));
        List<X509Certificate> chain = chain(pdf, gap, cms);
        X509Certificate signer = chain.get(0);
        if (claimedAt.isBefore(signer.getNotBefore().toInstant())
                || claimedAt.isAfter(signer.getNotAfter().toInstant())) {
            return new Broken("it claims to be of " + claimedAt + ", when its certificate was not valid");
        }
        return new Valid(
                SigningKey.subject(signer),
                SigningKey.sha256Fingerprint(signer),
                SigningKey.selfSigned(signer),
                claimedAt,
                chain);
    }

    private static Map<String, PdfValue> dictionaryAround(byte[] pdf, int mark) throws SigningException {
        int start = lastIndexOf(pdf, " obj\n<<", mark);
        if (start < 0) {
            throw new SigningException("the signature does not stand where this program puts it");
        }
        PdfParser parser = new PdfParser(pdf, start, OBJECT_BYTES_MOST);
        parser.expect("obj");
        Map<String, PdfValue> dictionary = parser.dictionary().entries();
        parser.expect("endobj");
        if (!dictionary.keySet().equals(KEYS)
                || !new PdfValue.Name("Sig").equals(dictionary.get("Type"))
                || !new PdfValue.Name("Adobe.PPKLite").equals(dictionary.get("Filter"))
                || !new PdfValue.Name("ETSI.CAdES.detached").equals(dictionary.get("SubFilter"))) {
            throw new SigningException("the signature is not described in the way that this program does");
        }
        return dictionary;
    }

    /** First and last-plus-one byte of what is not signed; all else must be. */
    private static int[] gap(byte[] pdf, @Nullable PdfValue byteRange) throws SigningException {
        List<Long> numbers = new ArrayList<>();
        if (byteRange instanceof PdfValue.Array array && array.values().size() == 4) {
            for (PdfValue value : array.values()) {
                numbers.add(value instanceof PdfValue.Whole whole ? whole.value() : Long.valueOf(-1));
            }
        }
        if (numbers.size() != 4
                || numbers.get(0) != 0
                || numbers.get(1) <= 0
                || numbers.get(2) <= numbers.get(1)
                || numbers.get(2) > pdf.length) {
            throw new SigningException("the signature does not say properly which bytes it covers");
        }
        long covered = numbers.get(2) + numbers.get(3);
        if (covered < pdf.length) {
            throw new SigningException(
                    "something of " + (pdf.length - covered) + " bytes was appended after the document was signed");
        }
        if (covered > pdf.length) {
            throw new SigningException("the end of the document is missing (" + (covered - pdf.length) + " bytes)");
        }
        return new int[] {numbers.get(1).intValue(), numbers.get(2).intValue()};
    }

    private static byte[] contents(byte[] pdf, int[] gap, int mark) throws SigningException {
        int from = gap[0];
        int until = gap[1];
        if (from < BEFORE_CONTENTS.length()
                || until - from > OBJECT_BYTES_MOST
                || Math.abs((long) mark - from) > OBJECT_BYTES_MOST
                || !startsWith(pdf, from - BEFORE_CONTENTS.length(), BEFORE_CONTENTS)
                || pdf[from] != '<'
                || pdf[until - 1] != '>') {
            throw new SigningException("the signature leaves out other bytes than its own");
        }
        String hex = new String(pdf, from + 1, Math.max(0, until - from - 2), StandardCharsets.ISO_8859_1);
        if (hex.length() % 2 != 0 || !hex.chars().allMatch(c -> (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f'))) {
            throw new SigningException("the signature is not written in lower-case hexadecimal digits");
        }
        return HexFormat.of().parseHex(hex);
    }

    private static Instant time(@Nullable PdfValue value) throws SigningException {
        try {
            if (value instanceof PdfValue.Text text) {
                return LocalDateTime.parse(text.latin1(), DATE).toInstant(ZoneOffset.UTC);
            }
        } catch (DateTimeException e) {
            throw new SigningException("the signature's time cannot be read", e);
        }
        throw new SigningException("the signature has no time");
    }

    private static List<X509Certificate> chain(byte[] pdf, int[] gap, byte[] cms) throws SigningException {
        Cms.Parts parts = Cms.parts(cms);
        if (parts.certificates.size() > CERTIFICATES_MOST) {
            throw new SigningException("the signature holds more than " + CERTIFICATES_MOST + " certificates");
        }
        X509Certificate signer = Cms.certificate(parts.certificates.get(0));
        SignatureKind kind = SignatureKind.of(signer);
        byte[] digest = digest(pdf, gap, kind.digestName);
        if (!Arrays.equals(cms, Cms.assemble(kind, parts.certificates, digest, parts.signature))) {
            throw new SigningException(
                    indexOf(cms, new String(digest, StandardCharsets.ISO_8859_1), 0) >= 0
                            ? "the signature itself was altered, or is not of the shape that this program writes"
                            : "the document was changed after it was signed");
        }
        boolean[] usage = signer.getKeyUsage();
        if (usage != null && !usage[USAGE_DIGITAL_SIGNATURE] && !usage[USAGE_NON_REPUDIATION]) {
            throw new SigningException("the signer's certificate does not allow signing documents");
        }
        byte[] signed = Cms.signedAttributes(kind, parts.certificates, digest);
        if (!isCanonical(kind, parts.signature) || !SigningKey.verifies(signer, kind, signed, parts.signature)) {
            throw new SigningException("the signature was not made with the key of the certificate beside it");
        }
        List<X509Certificate> chain = new ArrayList<>(List.of(signer));
        for (byte[] other : parts.certificates.subList(1, parts.certificates.size())) {
            chain.add(Cms.certificate(other));
        }
        return chain;
    }

    private static byte[] digest(byte[] pdf, int[] gap, String algorithm) {
        try {
            MessageDigest digest = MessageDigest.getInstance(algorithm);
            digest.update(pdf, 0, gap[0]);
            digest.update(pdf, gap[1], pdf.length - gap[1]);
            return digest.digest();
        } catch (GeneralSecurityException e) {
            throw new IllegalStateException("every Java runtime has " + algorithm, e);
        }
    }

    /** An elliptic signature is two numbers; only their one DER form is accepted. */
    private static boolean isCanonical(SignatureKind kind, byte[] signature) throws SigningException {
        if (kind == SignatureKind.RSA) {
            return true;
        }
        Der numbers = new Der(signature).into(Der.SEQUENCE);
        ASN1EncodableVector rebuilt = new ASN1EncodableVector();
        rebuilt.add(new ASN1Integer(new BigInteger(numbers.content(Der.INTEGER))));
        rebuilt.add(new ASN1Integer(new BigInteger(numbers.content(Der.INTEGER))));
        try {
            return Arrays.equals(signature, new DERSequence(rebuilt).getEncoded(ASN1Encoding.DER));
        } catch (IOException e) {
            throw new IllegalStateException("writing into memory failed", e);
        }
    }

    private static int indexOf(byte[] bytes, String latin1, int from) {
        for (int i = from; i <= bytes.length - latin1.length(); i++) {
            if (startsWith(bytes, i, latin1)) {
                return i;
            }
        }
        return -1;
    }

    private static int lastIndexOf(byte[] bytes, String latin1, int before) {
        for (int i = Math.min(before, bytes.length - latin1.length()); i >= 0; i--) {
            if (startsWith(bytes, i, latin1)) {
                return i;
            }
        }
        return -1;
    }

    private static boolean startsWith(byte[] bytes, int at, String latin1) {
        if (at < 0 || at + latin1.length() > bytes.length) {
            return false;
        }
        for (int i = 0; i < latin1.length(); i++) {
            if ((bytes[at + i] & 0xFF) != latin1.charAt(i)) {
                return false;
            }
        }
        return true;
    }
}

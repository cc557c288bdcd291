// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import java.io.ByteArrayInputStream;
import java.io.IOException;
import java.security.GeneralSecurityException;
import java.security.MessageDigest;
import java.security.cert.CertificateException;
import java.security.cert.CertificateFactory;
import java.security.cert.X509Certificate;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;
import org.bouncycastle.asn1.ASN1Encodable;
import org.bouncycastle.asn1.ASN1EncodableVector;
import org.bouncycastle.asn1.ASN1Encoding;
import org.bouncycastle.asn1.ASN1Set;
import org.bouncycastle.asn1.DEROctetString;
import org.bouncycastle.asn1.DERSet;
import org.bouncycastle.asn1.cms.Attribute;
import org.bouncycastle.asn1.cms.CMSAlgorithmProtection;
import org.bouncycastle.asn1.cms.CMSAttributes;
import org.bouncycastle.asn1.cms.CMSObjectIdentifiers;
import org.bouncycastle.asn1.cms.ContentInfo;
import org.bouncycastle.asn1.cms.IssuerAndSerialNumber;
import org.bouncycastle.asn1.cms.SignedData;
import org.bouncycastle.asn1.cms.SignerIdentifier;
import org.bouncycastle.asn1.cms.SignerInfo;
import org.bouncycastle.asn1.ess.ESSCertIDv2;
import org.bouncycastle.asn1.ess.SigningCertificateV2;
import org.bouncycastle.asn1.pkcs.PKCSObjectIdentifiers;
import org.bouncycastle.asn1.x509.Certificate;

/**
 * The one shape of signature (CMS, RFC 5652) that is written and accepted: detached, one signer, DER, exactly four signed
 * attributes and none unsigned. Signer and checker build it with the same code, so whatever else stands in a file is
 * found by comparing bytes.
 *
 * <p>PAdES baseline B (ETSI EN 319 142-1) wants the hash of the certificate among the signed attributes and no
 * signing time there: the claimed time is the document's own.
 */
final class Cms {
    /** What a checked file needs more than it can rebuild: everything else follows from these. */
    static final class Parts {
        final List<byte[]> certificates;
        final byte[] signature;

        private Parts(List<byte[]> certificates, byte[] signature) {
            this.certificates = certificates;
            this.signature = signature;
        }
    }

    private Cms() {}

    /** What is signed in place of the document: DER of the signed attributes. The signer's certificate comes first. */
    static byte[] signedAttributes(SignatureKind kind, List<byte[]> certificates, byte[] documentDigest) {
        return der(attributes(kind, certificates, documentDigest));
    }

    private static ASN1Set attributes(SignatureKind kind, List<byte[]> certificates, byte[] documentDigest) {
        ESSCertIDv2[] ids = new ESSCertIDv2[certificates.size()];
        for (int i = 0; i < ids.length; i++) {
            // All of them, not only the signer's: otherwise the rest could be changed without notice.
            ids[i] = new ESSCertIDv2(digest("SHA-256", certificates.get(i)));
        }
        ASN1EncodableVector attributes = new ASN1EncodableVector();
        attributes.add(attribute(CMSAttributes.contentType, CMSObjectIdentifiers.data));
        attributes.add(attribute(CMSAttributes.messageDigest, new DEROctetString(documentDigest)));
        attributes.add(attribute(
                CMSAttributes.cmsAlgorithmProtect,
                new CMSAlgorithmProtection(kind.digest, CMSAlgorithmProtection.SIGNATURE, kind.signature)));
        attributes.add(attribute(PKCSObjectIdentifiers.id_aa_signingCertificateV2, new SigningCertificateV2(ids)));
        return new DERSet(attributes);
    }

    private static Attribute attribute(org.bouncycastle.asn1.ASN1ObjectIdentifier type, ASN1Encodable value) {
        return new Attribute(type, new DERSet(value));
    }

    /** The whole signature as it lies in the file. */
    static byte[] assemble(SignatureKind kind, List<byte[]> certificates, byte[] documentDigest, byte[] signature) {
        Certificate signer = Certificate.getInstance(certificates.get(0));
        ASN1EncodableVector all = new ASN1EncodableVector();
        for (byte[] certificate : certificates) {
            all.add(Certificate.getInstance(certificate));
        }
        SignerInfo signerInfo = new SignerInfo(
                new SignerIdentifier(new IssuerAndSerialNumber(
                        signer.getIssuer(), signer.getSerialNumber().getValue())),
                kind.digest,
                attributes(kind, certificates, documentDigest),
                kind.signature,
                new DEROctetString(signature),
                (ASN1Set) null);
        SignedData data = new SignedData(
                new DERSet(kind.digest),
                new ContentInfo(CMSObjectIdentifiers.data, null),
                new DERSet(all),
                null,
                new DERSet(signerInfo));
        return der(new ContentInfo(CMSObjectIdentifiers.signedData, data));
    }

    /**
     * Takes certificates and signature out of what {@link #assemble} wrote. Only walks: the caller rebuilds and compares.
     *
     * @throws SigningException if the bytes end too early or have another shape
     */
    static Parts parts(byte[] cms) throws SigningException {
        Der signedData = new Der(cms)
                .into(Der.SEQUENCE)
                .skip(Der.OBJECT_IDENTIFIER)
                .into(Der.CONTEXT_0)
                .into(Der.SEQUENCE);
        signedData.skip(Der.INTEGER).skip(Der.SET).skip(Der.SEQUENCE);
        List<byte[]> certificates = signedData.into(Der.CONTEXT_0).all(Der.SEQUENCE);
        if (certificates.isEmpty()) {
            throw new SigningException("the signature holds no certificate");
        }
        Der signer = signedData.into(Der.SET).into(Der.SEQUENCE);
        byte[] issuerAndNumber = signer.skip(Der.INTEGER).content(Der.SEQUENCE);
        signer.skip(Der.SEQUENCE).skip(Der.CONTEXT_0).skip(Der.SEQUENCE);
        return new Parts(signerFirst(certificates, issuerAndNumber), signer.content(Der.OCTET_STRING));
    }

    /**
     * The signer's certificate, then the others as they come: in a set DER sorts by bytes, so whose key signed is told
     * only by issuer and number.
     */
    private static List<byte[]> signerFirst(List<byte[]> certificates, byte[] issuerAndNumber) throws SigningException {
        List<byte[]> ordered = new ArrayList<>(certificates);
        for (int i = 0; i < certificates.size(); i++) {
            if (Arrays.equals(issuerAndNumber(certificates.get(i)), issuerAndNumber)) {
                ordered.add(0, ordered.remove(i));
                return ordered;
            }
        }
        throw new SigningException("the signature does not hold its signer's certificate");
    }

    /** The inside of the identifier, without its head. */
    private static byte[] issuerAndNumber(byte[] certificate) throws SigningException {
        try {
            Certificate of = Certificate.getInstance(certificate);
            byte[] whole = der(new IssuerAndSerialNumber(
                    of.getIssuer(), of.getSerialNumber().getValue()));
            return new Der(whole).content(Der.SEQUENCE);
        } catch (IllegalArgumentException e) {
            throw new SigningException("the certificate in the signature cannot be read", e);
        }
    }

    /** The order in which a reader will find them: the signer's, then the others as DER sorts a set. */
    static List<byte[]> inReadersOrder(List<byte[]> chain) {
        List<byte[]> others = new ArrayList<>(chain.subList(1, chain.size()));
        others.sort(Arrays::compareUnsigned);
        others.add(0, chain.get(0));
        return others;
    }

    static X509Certificate certificate(byte[] der) throws SigningException {
        try {
            return (X509Certificate)
                    CertificateFactory.getInstance("X.509").generateCertificate(new ByteArrayInputStream(der));
        } catch (CertificateException | RuntimeException e) {
            throw new SigningException("the certificate in the signature cannot be read", e);
        }
    }

    static byte[] digest(String algorithm, byte[]... parts) {
        try {
            MessageDigest digest = MessageDigest.getInstance(algorithm);
            for (byte[] part : parts) {
                digest.update(part);
            }
            return digest.digest();
        } catch (GeneralSecurityException e) {
            throw new IllegalStateException("every Java runtime has " + algorithm, e);
        }
    }

    private static byte[] der(org.bouncycastle.asn1.ASN1Object object) {
        try {
            return object.getEncoded(ASN1Encoding.DER);
        } catch (IOException e) {
            throw new IllegalStateException("writing into memory failed", e);
        }
    }
}

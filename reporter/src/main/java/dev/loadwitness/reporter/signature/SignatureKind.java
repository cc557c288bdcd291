// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import java.security.cert.X509Certificate;
import java.security.interfaces.RSAPublicKey;
import org.bouncycastle.asn1.ASN1Encodable;
import org.bouncycastle.asn1.ASN1ObjectIdentifier;
import org.bouncycastle.asn1.DERNull;
import org.bouncycastle.asn1.nist.NISTObjectIdentifiers;
import org.bouncycastle.asn1.pkcs.PKCSObjectIdentifiers;
import org.bouncycastle.asn1.sec.SECObjectIdentifiers;
import org.bouncycastle.asn1.x509.AlgorithmIdentifier;
import org.bouncycastle.asn1.x509.SubjectPublicKeyInfo;
import org.bouncycastle.asn1.x9.X9ObjectIdentifiers;

/** The few kinds of signature that are made and accepted. */
enum SignatureKind {
    RSA(
            "SHA-256",
            "SHA256withRSA",
            NISTObjectIdentifiers.id_sha256,
            new AlgorithmIdentifier(PKCSObjectIdentifiers.sha256WithRSAEncryption, DERNull.INSTANCE)),
    EC_P256(
            "SHA-256",
            "SHA256withECDSA",
            NISTObjectIdentifiers.id_sha256,
            new AlgorithmIdentifier(X9ObjectIdentifiers.ecdsa_with_SHA256)),
    EC_P384(
            "SHA-384",
            "SHA384withECDSA",
            NISTObjectIdentifiers.id_sha384,
            new AlgorithmIdentifier(X9ObjectIdentifiers.ecdsa_with_SHA384));

    private static final int RSA_BITS_LEAST = 2048;
    // A bound, so that a hostile certificate cannot make a check take minutes.
    private static final int RSA_BITS_MOST = 8192;
    private static final int RSA_EXPONENT_BITS_MOST = 64;

    final String digestName;
    final String signatureName;
    final AlgorithmIdentifier digest;
    final AlgorithmIdentifier signature;

    SignatureKind(String digestName, String signatureName, ASN1ObjectIdentifier digest, AlgorithmIdentifier signature) {
        this.digestName = digestName;
        this.signatureName = signatureName;
        this.digest = new AlgorithmIdentifier(digest);
        this.signature = signature;
    }

    /** The kind that the certificate's key makes; refuses keys that are too weak or of another family. */
    static SignatureKind of(X509Certificate certificate) throws SigningException {
        if (certificate.getPublicKey() instanceof RSAPublicKey rsa) {
            int bits = rsa.getModulus().bitLength();
            if (bits < RSA_BITS_LEAST || bits > RSA_BITS_MOST) {
                throw new SigningException("the RSA key has " + bits + " bits; use one of " + RSA_BITS_LEAST + " to "
                        + RSA_BITS_MOST + " bits");
            }
            if (rsa.getPublicExponent().bitLength() > RSA_EXPONENT_BITS_MOST) {
                throw new SigningException("the RSA key has an unusually large public exponent; use another key");
            }
            return RSA;
        }
        ASN1Encodable curve = SubjectPublicKeyInfo.getInstance(
                        certificate.getPublicKey().getEncoded())
                .getAlgorithm()
                .getParameters();
        if (SECObjectIdentifiers.secp256r1.equals(curve)) {
            return EC_P256;
        }
        if (SECObjectIdentifiers.secp384r1.equals(curve)) {
            return EC_P384;
        }
        throw new SigningException(
                "the key is of the kind " + certificate.getPublicKey().getAlgorithm()
                        + ", which is not used here; use RSA of 2048 bits or more, or EC on the curve P-256 or P-384");
    }
}

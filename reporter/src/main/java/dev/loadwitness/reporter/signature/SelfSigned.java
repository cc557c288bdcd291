// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import java.io.IOException;
import java.math.BigInteger;
import java.security.GeneralSecurityException;
import java.security.KeyPair;
import java.security.KeyPairGenerator;
import java.security.PrivateKey;
import java.security.SecureRandom;
import java.security.cert.X509Certificate;
import java.security.spec.ECGenParameterSpec;
import java.time.Duration;
import java.time.Instant;
import java.time.temporal.ChronoUnit;
import java.util.Date;
import org.bouncycastle.asn1.x500.X500Name;
import org.bouncycastle.asn1.x500.X500NameBuilder;
import org.bouncycastle.asn1.x500.style.BCStyle;
import org.bouncycastle.asn1.x509.BasicConstraints;
import org.bouncycastle.asn1.x509.Extension;
import org.bouncycastle.asn1.x509.KeyUsage;
import org.bouncycastle.cert.X509v3CertificateBuilder;
import org.bouncycastle.cert.jcajce.JcaX509CertificateConverter;
import org.bouncycastle.cert.jcajce.JcaX509ExtensionUtils;
import org.bouncycastle.cert.jcajce.JcaX509v3CertificateBuilder;
import org.bouncycastle.operator.OperatorCreationException;
import org.bouncycastle.operator.jcajce.JcaContentSignerBuilder;

/** A fresh key and the certificate it signs for itself. */
record SelfSigned(PrivateKey privateKey, X509Certificate certificate) {
    private static final int RSA_BITS = 3072;
    private static final int SERIAL_BITS = 127;
    /** X.520 upper bound for names (ub-common-name and ub-organization-name of RFC 5280). */
    private static final int NAME_CHARACTERS_MOST = 64;

    static SelfSigned create(
            SignatureKind kind,
            String commonName,
            String organisation,
            Instant notBefore,
            Duration validity,
            SecureRandom random)
            throws SigningException {
        X500Name name = new X500NameBuilder(BCStyle.INSTANCE)
                .addRDN(BCStyle.O, checked("organisation", organisation))
                .addRDN(BCStyle.CN, checked("name", commonName))
                .build();
        Instant from = notBefore.truncatedTo(ChronoUnit.SECONDS);
        Instant until = from.plus(validity).truncatedTo(ChronoUnit.SECONDS);
        if (!until.isAfter(from)) {
            throw new SigningException("The validity of a new key must be longer than nothing, not " + validity + ".");
        }
        try {
            KeyPair pair = keyPair(kind, random);
            X509v3CertificateBuilder builder = new JcaX509v3CertificateBuilder(
                    name,
                    new BigInteger(SERIAL_BITS, random).setBit(SERIAL_BITS - 1),
                    Date.from(from),
                    Date.from(until),
                    name,
                    pair.getPublic());
            builder.addExtension(Extension.basicConstraints, true, new BasicConstraints(false));
            builder.addExtension(
                    Extension.keyUsage, true, new KeyUsage(KeyUsage.digitalSignature | KeyUsage.nonRepudiation));
            builder.addExtension(
                    Extension.subjectKeyIdentifier,
                    false,
                    new JcaX509ExtensionUtils().createSubjectKeyIdentifier(pair.getPublic()));
            return new SelfSigned(
                    pair.getPrivate(),
                    new JcaX509CertificateConverter()
                            .getCertificate(builder.build(new JcaContentSignerBuilder(kind.signatureName)
                                    .setSecureRandom(random)
                                    .build(pair.getPrivate()))));
        } catch (GeneralSecurityException | OperatorCreationException | IOException e) {
            throw new SigningException("This Java runtime cannot make a key of the kind " + kind + ".", e);
        }
    }

    private static KeyPair keyPair(SignatureKind kind, SecureRandom random) throws GeneralSecurityException {
        KeyPairGenerator generator = KeyPairGenerator.getInstance(kind == SignatureKind.RSA ? "RSA" : "EC");
        switch (kind) {
            case RSA -> generator.initialize(RSA_BITS, random);
            case EC_P256 -> generator.initialize(new ECGenParameterSpec("secp256r1"), random);
            case EC_P384 -> generator.initialize(new ECGenParameterSpec("secp384r1"), random);
        }
        return generator.generateKeyPair();
    }

    private static String checked(String what, String value) throws SigningException {
        if (value.isBlank()
                || value.length() > NAME_CHARACTERS_MOST
                || value.chars().anyMatch(Character::isISOControl)) {
            throw new SigningException("The " + what + " for a new key must have 1 to " + NAME_CHARACTERS_MOST
                    + " characters and no control characters.");
        }
        return value.strip();
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import java.math.BigInteger;
import java.util.ArrayList;
import java.util.Collections;
import java.util.List;
import org.bouncycastle.asn1.ASN1OctetString;
import org.bouncycastle.asn1.ASN1Sequence;
import org.bouncycastle.asn1.pkcs.AuthenticatedSafe;
import org.bouncycastle.asn1.pkcs.ContentInfo;
import org.bouncycastle.asn1.pkcs.EncryptedData;
import org.bouncycastle.asn1.pkcs.EncryptedPrivateKeyInfo;
import org.bouncycastle.asn1.pkcs.MacData;
import org.bouncycastle.asn1.pkcs.PBES2Parameters;
import org.bouncycastle.asn1.pkcs.PBKDF2Params;
import org.bouncycastle.asn1.pkcs.PKCSObjectIdentifiers;
import org.bouncycastle.asn1.pkcs.Pfx;
import org.bouncycastle.asn1.pkcs.SafeBag;
import org.bouncycastle.asn1.x509.AlgorithmIdentifier;

/**
 * How often a key file has a guessed passphrase hashed before it says whether the guess is right. Whoever guesses picks
 * the cheapest of its parts: the key, the certificates or the MAC over both, so the least counts.
 */
final class KeyStretching {
    /** For PBKDF2 with HMAC-SHA-256. OWASP, Password Storage Cheat Sheet (from memory). */
    static final int ITERATIONS = 600_000;

    /** A step of the MAC's derivation (RFC 7292, appendix B) hashes once, one of PBKDF2 twice. */
    static final int MAC_ITERATIONS = 2 * ITERATIONS;

    private KeyStretching() {}

    /** The least of all parts, in steps of PBKDF2; 0 if one is protected by older means, or not at all. */
    static int weakest(byte[] pkcs12) {
        try {
            Pfx file = Pfx.getInstance(pkcs12);
            List<BigInteger> steps = new ArrayList<>();
            steps.add(ofMac(file.getMacData()));
            ASN1OctetString safe =
                    ASN1OctetString.getInstance(file.getAuthSafe().getContent());
            for (ContentInfo part :
                    AuthenticatedSafe.getInstance(safe.getOctets()).getContentInfo()) {
                if (part.getContentType().equals(PKCSObjectIdentifiers.encryptedData)) {
                    steps.add(ofCipher(
                            EncryptedData.getInstance(part.getContent()).getEncryptionAlgorithm()));
                } else {
                    addKeys(ASN1OctetString.getInstance(part.getContent()), steps);
                }
            }
            return Collections.min(steps)
                    .min(BigInteger.valueOf(Integer.MAX_VALUE))
                    .intValue();
        } catch (IllegalArgumentException | IllegalStateException | NullPointerException | ClassCastException e) {
            // A shape that this does not know is not vouched for.
            return 0;
        }
    }

    private static void addKeys(ASN1OctetString content, List<BigInteger> steps) {
        for (var entry : ASN1Sequence.getInstance(content.getOctets())) {
            SafeBag bag = SafeBag.getInstance(entry);
            if (bag.getBagId().equals(PKCSObjectIdentifiers.pkcs8ShroudedKeyBag)) {
                steps.add(ofCipher(
                        EncryptedPrivateKeyInfo.getInstance(bag.getBagValue()).getEncryptionAlgorithm()));
            } else if (bag.getBagId().equals(PKCSObjectIdentifiers.keyBag)) {
                steps.add(BigInteger.ZERO);
            }
        }
    }

    private static BigInteger ofMac(MacData mac) {
        return mac.getIterationCount().divide(BigInteger.TWO);
    }

    private static BigInteger ofCipher(AlgorithmIdentifier cipher) {
        if (!cipher.getAlgorithm().equals(PKCSObjectIdentifiers.id_PBES2)) {
            return BigInteger.ZERO;
        }
        var derivation = PBES2Parameters.getInstance(cipher.getParameters()).getKeyDerivationFunc();
        if (!derivation.getAlgorithm().equals(PKCSObjectIdentifiers.id_PBKDF2)) {
            return BigInteger.ZERO;
        }
        return PBKDF2Params.getInstance(derivation.getParameters()).getIterationCount();
    }
}

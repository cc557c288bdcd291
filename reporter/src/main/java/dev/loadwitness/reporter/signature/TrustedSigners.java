// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import dev.loadwitness.runlog.disk.Input;
import java.io.ByteArrayInputStream;
import java.io.IOException;
import java.nio.file.Path;
import java.security.GeneralSecurityException;
import java.security.cert.CertPathBuilder;
import java.security.cert.CertPathBuilderException;
import java.security.cert.CertStore;
import java.security.cert.Certificate;
import java.security.cert.CertificateFactory;
import java.security.cert.CollectionCertStoreParameters;
import java.security.cert.PKIXBuilderParameters;
import java.security.cert.TrustAnchor;
import java.security.cert.X509CertSelector;
import java.security.cert.X509Certificate;
import java.util.ArrayList;
import java.util.Date;
import java.util.List;
import java.util.Set;

/** Certificates that somebody decided to trust: a signer's own, or that of who issued it. */
public final class TrustedSigners {
    private static final int FILE_BYTES_MOST = 1 << 20;

    private final List<X509Certificate> certificates;

    private TrustedSigners(List<X509Certificate> certificates) {
        this.certificates = List.copyOf(certificates);
    }

    /** How a signer stands to what is trusted. */
    public enum Standing {
        /** The very certificate is trusted. */
        ITSELF,
        /** Its chain, as it lies in the signature, ends in a trusted one; revocation was not asked. */
        BY_ISSUER,
        NOT
    }

    /**
     * Reads one or several certificates, PEM or DER.
     *
     * @throws SigningException if the file cannot be read or holds none
     */
    public static TrustedSigners load(Path file) throws SigningException {
        try {
            byte[] bytes = Input.bytes(file, Input.Named.BY_PERSON, FILE_BYTES_MOST);
            List<X509Certificate> found = new ArrayList<>();
            for (Certificate c :
                    CertificateFactory.getInstance("X.509").generateCertificates(new ByteArrayInputStream(bytes))) {
                found.add((X509Certificate) c);
            }
            if (found.isEmpty()) {
                throw new SigningException(file + " holds no certificate; give one as PEM or DER");
            }
            return new TrustedSigners(found);
        } catch (IOException e) {
            throw new SigningException(String.valueOf(e.getMessage()), e);
        } catch (GeneralSecurityException | ClassCastException e) {
            throw new SigningException(file + " holds no certificate that can be read; give one as PEM or DER", e);
        }
    }

    /** At the time that the signature claims. */
    public Standing of(PdfSignatureCheck.Valid signature) {
        List<X509Certificate> chain = signature.chain();
        if (certificates.contains(chain.get(0))) {
            return Standing.ITSELF;
        }
        for (X509Certificate anchor : certificates) {
            if (leadsTo(anchor, chain, signature)) {
                return Standing.BY_ISSUER;
            }
        }
        return Standing.NOT;
    }

    private static boolean leadsTo(
            X509Certificate anchor, List<X509Certificate> chain, PdfSignatureCheck.Valid signature) {
        try {
            X509CertSelector signer = new X509CertSelector();
            signer.setCertificate(chain.get(0));
            PKIXBuilderParameters parameters = new PKIXBuilderParameters(Set.of(new TrustAnchor(anchor, null)), signer);
            parameters.addCertStore(CertStore.getInstance("Collection", new CollectionCertStoreParameters(chain)));
            parameters.setRevocationEnabled(false);
            parameters.setDate(Date.from(signature.claimedAt()));
            CertPathBuilder.getInstance("PKIX").build(parameters);
            return true;
        } catch (CertPathBuilderException e) {
            return false;
        } catch (GeneralSecurityException | RuntimeException e) {
            // Hostile chains end here too.
            return false;
        }
    }
}

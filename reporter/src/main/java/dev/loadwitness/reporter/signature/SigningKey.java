// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import dev.loadwitness.runlog.disk.Folder;
import dev.loadwitness.runlog.disk.Input;
import dev.loadwitness.runlog.disk.NewFile;
import java.io.ByteArrayInputStream;
import java.io.ByteArrayOutputStream;
import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.security.GeneralSecurityException;
import java.security.KeyStore;
import java.security.MessageDigest;
import java.security.PrivateKey;
import java.security.SecureRandom;
import java.security.Security;
import java.security.Signature;
import java.security.SignatureException;
import java.security.UnrecoverableKeyException;
import java.security.cert.Certificate;
import java.security.cert.CertificateEncodingException;
import java.security.cert.X509Certificate;
import java.time.Duration;
import java.time.Instant;
import java.util.ArrayList;
import java.util.Base64;
import java.util.Collections;
import java.util.HexFormat;
import java.util.List;
import java.util.Optional;

/** A private key with the certificate that names its owner. Never prints the key. */
public final class SigningKey {
    /** A key file is a few KiB; a larger one is some other file. */
    private static final int FILE_BYTES_MOST = 1 << 20;

    private static final int KEY_USAGE_DIGITAL_SIGNATURE = 0;
    private static final int KEY_USAGE_NON_REPUDIATION = 1;

    private final PrivateKey privateKey;
    private final List<X509Certificate> chain;
    private final SignatureKind kind;

    private SigningKey(PrivateKey privateKey, List<X509Certificate> chain) throws SigningException {
        this.privateKey = privateKey;
        this.chain = List.copyOf(chain);
        this.kind = SignatureKind.of(certificate());
        boolean[] usage = certificate().getKeyUsage();
        if (usage != null && !usage[KEY_USAGE_DIGITAL_SIGNATURE] && !usage[KEY_USAGE_NON_REPUDIATION]) {
            throw new SigningException(
                    "its certificate does not allow signing documents (key usage); use a certificate for signing");
        }
        byte[] probe = {1, 2, 3};
        if (!verifies(certificate(), kind, probe, sign(probe))) {
            throw new SigningException("its private key does not belong to its certificate; export the pair again");
        }
    }

    /**
     * Reads a PKCS#12 file and checks it whole.
     *
     * @throws SigningException if it cannot be read, the passphrase is wrong, or what it holds is not exactly one private
     *     key (RSA of 2048 bits or more, EC P-256 or P-384) with its certificate
     */
    public static SigningKey load(Path pkcs12, char[] passphrase) throws SigningException {
        byte[] bytes = read(pkcs12);
        requireAscii(pkcs12, passphrase);
        try {
            KeyStore store = KeyStore.getInstance("PKCS12");
            store.load(new ByteArrayInputStream(bytes), passphrase);
            List<String> keys = new ArrayList<>();
            for (String alias : Collections.list(store.aliases())) {
                if (store.isKeyEntry(alias)) {
                    keys.add(alias);
                }
            }
            if (keys.size() != 1) {
                throw new SigningException(
                        keys.isEmpty()
                                ? "it holds no private key; export the key together with its certificate"
                                : "it holds " + keys.size() + " keys; export only the one that signs reports");
            }
            if (!(store.getKey(keys.get(0), passphrase) instanceof PrivateKey key)) {
                throw new SigningException("its key is not a private key; export the key with its certificate");
            }
            Certificate[] certificates = store.getCertificateChain(keys.get(0));
            if (certificates == null || certificates.length == 0) {
                throw new SigningException("it holds a key without a certificate; export both together");
            }
            List<X509Certificate> chain = new ArrayList<>();
            for (Certificate certificate : certificates) {
                chain.add((X509Certificate) certificate);
            }
            return new SigningKey(key, chain);
        } catch (SigningException e) {
            throw new SigningException("Signing key " + pkcs12 + ": " + e.getMessage() + ".", e);
        } catch (UnrecoverableKeyException e) {
            throw wrongPassphrase(pkcs12, e);
        } catch (IOException e) {
            // The JDK tells a wrong passphrase from a wrong file only by this cause.
            if (e.getCause() instanceof UnrecoverableKeyException) {
                throw wrongPassphrase(pkcs12, e);
            }
            throw notPkcs12(pkcs12, e);
        } catch (GeneralSecurityException | RuntimeException e) {
            throw notPkcs12(pkcs12, e);
        }
    }

    static byte[] read(Path file) throws SigningException {
        try {
            return Input.bytes(file, Input.Named.BY_PERSON, FILE_BYTES_MOST);
        } catch (IOException e) {
            throw new SigningException(
                    "Signing key " + e.getMessage()
                            + ". Give the path of a PKCS#12 file, or make one with `signing-key`.",
                    e);
        }
    }

    /** Java's PKCS#12 encryption (PBES2) takes no others, and says so in no words for a user. */
    private static void requireAscii(Path file, char[] passphrase) throws SigningException {
        for (char c : passphrase) {
            if (c < ' ' || c > '~') {
                throw new SigningException("Signing key " + file + ": the passphrase has characters other than ASCII"
                        + " letters, digits, signs and spaces, which Java cannot use here. Choose another passphrase.");
            }
        }
    }

    private static SigningException wrongPassphrase(Path file, Exception cause) {
        return new SigningException(
                "Signing key " + file + ": the passphrase is wrong. Check it and try again; it cannot be recovered.",
                cause);
    }

    private static SigningException notPkcs12(Path file, Exception cause) {
        return new SigningException(
                "Signing key " + file
                        + ": this is not a usable PKCS#12 file (or it is damaged). Give another, or make one"
                        + " with `signing-key`.",
                cause);
    }

    /**
     * Makes an RSA-3072 key and a certificate for it that it signs itself. RSA, because the same report then gets the
     * same signature.
     *
     * @param notBefore start of validity, cut to whole seconds
     * @param validity more than zero
     */
    public static SigningKey createSelfSigned(
            String commonName, String organisation, Instant notBefore, Duration validity, SecureRandom random)
            throws SigningException {
        return createSelfSigned(SignatureKind.RSA, commonName, organisation, notBefore, validity, random);
    }

    static SigningKey createSelfSigned(
            SignatureKind kind,
            String commonName,
            String organisation,
            Instant notBefore,
            Duration validity,
            SecureRandom random)
            throws SigningException {
        SelfSigned made = SelfSigned.create(kind, commonName, organisation, notBefore, validity, random);
        return new SigningKey(made.privateKey(), List.of(made.certificate()));
    }

    /**
     * Writes key and certificate to a new PKCS#12 file, readable by its owner only where the file system knows owners.
     * Nothing is left behind when it fails, and an existing file is never replaced.
     */
    public void writePkcs12(Path file, char[] passphrase) throws SigningException {
        Passphrases.requireStrong(passphrase);
        requireAscii(file, passphrase);
        write(NewFile.at(file).secret(), "Signing key ", toPkcs12(passphrase));
    }

    private static void write(NewFile file, String what, byte[] bytes) throws SigningException {
        try {
            file.write(bytes);
        } catch (IOException e) {
            throw new SigningException(what + e.getMessage() + ".", e);
        }
    }

    /** Writes key and certificate to two new files, or neither. */
    public void writePair(Path pkcs12, char[] passphrase, Path certificateFile) throws SigningException {
        requireNew(pkcs12, Optional.of(certificateFile));
        writeCertificate(certificateFile);
        try {
            writePkcs12(pkcs12, passphrase);
        } catch (SigningException e) {
            Folder.of(certificateFile).deleteQuietly(String.valueOf(certificateFile.getFileName()));
            throw e;
        }
    }

    /** Says before any question is asked that a file cannot be made. */
    public static void requireNew(Path pkcs12, Optional<Path> certificateFile) throws SigningException {
        requireNew(NewFile.at(pkcs12).secret(), "Signing key ");
        if (certificateFile.isPresent()) {
            Path file = certificateFile.get();
            requireNew(NewFile.at(file), "Certificate ");
            if (file.toAbsolutePath().normalize().equals(pkcs12.toAbsolutePath().normalize())) {
                throw new SigningException("Key and certificate are to go into one file, " + file
                        + ": the certificate is handed out, the key never. Give two names.");
            }
        }
    }

    private static void requireNew(NewFile file, String what) throws SigningException {
        try {
            file.check();
        } catch (IOException e) {
            throw new SigningException(what + e.getMessage() + ".", e);
        }
    }

    /** Writes the certificate, which is no secret, as PEM to a new file: what others pin. */
    void writeCertificate(Path file) throws SigningException {
        try {
            String base64 = Base64.getMimeEncoder(64, new byte[] {'\n'})
                    .encodeToString(certificate().getEncoded());
            String pem = "-----BEGIN CERTIFICATE-----\n" + base64 + "\n-----END CERTIFICATE-----\n";
            write(NewFile.at(file), "Certificate ", pem.getBytes(StandardCharsets.US_ASCII));
        } catch (CertificateEncodingException e) {
            throw new IllegalStateException("a parsed certificate has its bytes", e);
        }
    }

    private byte[] toPkcs12(char[] passphrase) throws SigningException {
        try {
            // Java's writer takes no arguments for these, but asks for them at each use; opened by OpenSSL 3 and Java
            // 17.
            Security.setProperty("keystore.pkcs12.keyProtectionAlgorithm", "PBEWithHmacSHA256AndAES_256");
            Security.setProperty("keystore.pkcs12.certProtectionAlgorithm", "PBEWithHmacSHA256AndAES_256");
            Security.setProperty("keystore.pkcs12.macAlgorithm", "HmacPBESHA256");
            Security.setProperty("keystore.pkcs12.keyPbeIterationCount", "" + KeyStretching.ITERATIONS);
            Security.setProperty("keystore.pkcs12.certPbeIterationCount", "" + KeyStretching.ITERATIONS);
            Security.setProperty("keystore.pkcs12.macIterationCount", "" + KeyStretching.MAC_ITERATIONS);
            KeyStore store = KeyStore.getInstance("PKCS12");
            store.load(null, null);
            store.setKeyEntry("loadwitness", privateKey, passphrase, chain.toArray(Certificate[]::new));
            ByteArrayOutputStream out = new ByteArrayOutputStream();
            store.store(out, passphrase);
            // A property on Java's command line comes before what is set here.
            if (KeyStretching.weakest(out.toByteArray()) < KeyStretching.ITERATIONS) {
                throw new SigningException("This Java runtime is set to write weak key files; start it without"
                        + " properties that begin with keystore.pkcs12.");
            }
            return out.toByteArray();
        } catch (IOException | GeneralSecurityException e) {
            throw new SigningException("This Java runtime cannot write PKCS#12: " + e.getMessage(), e);
        }
    }

    /** The owner's distinguished name after RFC 2253, control characters replaced. */
    public String subject() {
        return subject(certificate());
    }

    static String subject(X509Certificate certificate) {
        return certificate.getSubjectX500Principal().getName().replaceAll("\\p{Cntrl}", "?");
    }

    /** SHA-256 of the certificate as 64 lower-case hexadecimal digits: what a customer compares. */
    public String sha256Fingerprint() {
        return sha256Fingerprint(certificate());
    }

    static String sha256Fingerprint(X509Certificate certificate) {
        try {
            return HexFormat.of().formatHex(MessageDigest.getInstance("SHA-256").digest(certificate.getEncoded()));
        } catch (GeneralSecurityException e) {
            throw new IllegalStateException("a parsed certificate and SHA-256 are always there", e);
        }
    }

    /** Start of the certificate's validity. */
    public Instant notBefore() {
        return certificate().getNotBefore().toInstant();
    }

    /** End of the certificate's validity, itself still inside. */
    public Instant notAfter() {
        return certificate().getNotAfter().toInstant();
    }

    /** Whether only the key's own owner vouches for the name in the certificate. */
    public boolean selfSigned() {
        return selfSigned(certificate());
    }

    static boolean selfSigned(X509Certificate certificate) {
        if (!certificate.getSubjectX500Principal().equals(certificate.getIssuerX500Principal())) {
            return false;
        }
        try {
            certificate.verify(certificate.getPublicKey());
            return true;
        } catch (GeneralSecurityException | RuntimeException e) {
            return false;
        }
    }

    X509Certificate certificate() {
        return chain.get(0);
    }

    List<byte[]> encodedChain() {
        List<byte[]> encoded = new ArrayList<>();
        try {
            for (X509Certificate certificate : chain) {
                encoded.add(certificate.getEncoded());
            }
        } catch (CertificateEncodingException e) {
            throw new IllegalStateException("a parsed certificate has its bytes", e);
        }
        return encoded;
    }

    SignatureKind kind() {
        return kind;
    }

    byte[] sign(byte[] data) throws SigningException {
        try {
            Signature signature = Signature.getInstance(kind.signatureName);
            signature.initSign(privateKey);
            signature.update(data);
            return signature.sign();
        } catch (GeneralSecurityException e) {
            throw new SigningException("the key cannot sign with " + kind.signatureName + ": " + e.getMessage(), e);
        }
    }

    static boolean verifies(X509Certificate certificate, SignatureKind kind, byte[] data, byte[] signatureBytes)
            throws SigningException {
        try {
            Signature signature = Signature.getInstance(kind.signatureName);
            // The key, not the certificate: the latter would also judge its key usage, which is judged elsewhere.
            signature.initVerify(certificate.getPublicKey());
            signature.update(data);
            return signature.verify(signatureBytes);
        } catch (SignatureException e) {
            return false;
        } catch (GeneralSecurityException e) {
            throw new SigningException("the key cannot be used with " + kind.signatureName + ": " + e.getMessage(), e);
        }
    }
}

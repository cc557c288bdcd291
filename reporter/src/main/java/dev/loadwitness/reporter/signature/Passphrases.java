// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import dev.loadwitness.runlog.disk.Input;
import java.io.IOException;
import java.io.InputStream;
import java.nio.ByteBuffer;
import java.nio.CharBuffer;
import java.nio.charset.CharacterCodingException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.util.Arrays;
import java.util.Map;

/** Where a passphrase may come from besides a prompt. Never an argument: those are seen by every user of the machine. */
public final class Passphrases {
    /**
     * For a new key. NIST SP 800-63B revision 4 asks for 15 characters where a passphrase stands alone, and advises
     * against rules on which characters (both from memory): whoever has copied the file guesses without end.
     */
    static final int CHARACTERS_LEAST = 15;

    /** Fewer say that one key was held down, or a word typed until it was long enough. */
    private static final int DIFFERENT_CHARACTERS_LEAST = 6;

    private static final int BYTES_MOST = 4096;

    private Passphrases() {}

    /** Refuses what is too easily guessed for a new key; says which rule, and never the passphrase. */
    public static void requireStrong(char[] passphrase) throws SigningException {
        String advice = " Take four or five words that have nothing to do with each other, or what"
                + " 'openssl rand -base64 18' prints.";
        if (passphrase.length < CHARACTERS_LEAST) {
            throw new SigningException("The passphrase is too short for a new key: it has " + passphrase.length
                    + " characters of at least " + CHARACTERS_LEAST + "." + advice);
        }
        if (CharBuffer.wrap(passphrase).chars().distinct().count() < DIFFERENT_CHARACTERS_LEAST) {
            throw new SigningException("The passphrase is too easily guessed for a new key: it has fewer than "
                    + DIFFERENT_CHARACTERS_LEAST + " different characters." + advice);
        }
    }

    /**
     * The first line of a file that its owner alone can read, without its line ending, as UTF-8.
     *
     * @throws SigningException if others can read it, too: unlike a key file it holds the secret itself
     */
    public static char[] fromFile(Path file) throws SigningException {
        byte[] bytes;
        try (InputStream in = Input.open(file, Input.Named.BY_PERSON, Long.MAX_VALUE)) {
            if (KeyCare.othersCanRead(file)) {
                throw new SigningException("Passphrase file " + file + ": others can read it. Run 'chmod 600' on it;"
                        + " where the file system knows no owners (FAT), type the passphrase or use --passphrase-env.");
            }
            bytes = in.readNBytes(BYTES_MOST + 1);
        } catch (IOException e) {
            throw new SigningException("Passphrase file " + e.getMessage() + ".", e);
        }
        int end = 0;
        while (end < bytes.length && bytes[end] != '\n' && bytes[end] != '\r') {
            end++;
        }
        if (end > BYTES_MOST) {
            throw new SigningException("Passphrase file " + file + ": its first line is longer than " + BYTES_MOST
                    + " bytes. Is this the right file?");
        }
        if (end == 0) {
            throw new SigningException(
                    "Passphrase file " + file + ": its first line is empty. Write the passphrase there.");
        }
        try {
            CharBuffer decoded = StandardCharsets.UTF_8.newDecoder().decode(ByteBuffer.wrap(bytes, 0, end));
            char[] passphrase = new char[decoded.remaining()];
            decoded.get(passphrase);
            Arrays.fill(decoded.array(), '\0');
            return passphrase;
        } catch (CharacterCodingException e) {
            throw new SigningException(
                    "Passphrase file " + file + ": its first line is not UTF-8. Save it as UTF-8 text.", e);
        } finally {
            Arrays.fill(bytes, (byte) 0);
        }
    }

    /** The value of the environment variable {@code name}. */
    public static char[] fromEnvironment(String name) throws SigningException {
        return fromEnvironment(name, System.getenv());
    }

    static char[] fromEnvironment(String name, Map<String, String> environment) throws SigningException {
        String value = environment.get(name);
        if (value == null) {
            throw new SigningException("Environment variable " + name
                    + " for the passphrase is not set. Set it, or give the passphrase by prompt or file.");
        }
        if (value.isEmpty()) {
            throw new SigningException(
                    "Environment variable " + name + " for the passphrase is empty. Put the passphrase into it.");
        }
        return value.toCharArray();
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import java.io.IOException;
import java.io.InputStream;
import java.nio.ByteBuffer;
import java.nio.CharBuffer;
import java.nio.charset.CharacterCodingException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.Arrays;
import java.util.Map;

/** Where a passphrase may come from besides a prompt. Never an argument: those are seen by every user of the machine. */
public final class Passphrases {
    private static final int BYTES_MOST = 4096;

    private Passphrases() {}

    /** The file's first line, without its line ending, as UTF-8. */
    public static char[] fromFile(Path file) throws SigningException {
        byte[] bytes;
        try (InputStream in = Files.newInputStream(file)) {
            bytes = in.readNBytes(BYTES_MOST + 1);
        } catch (IOException e) {
            throw new SigningException(
                    "Passphrase file " + file
                            + (Files.exists(file)
                                    ? ": it cannot be read. Check its owner and permissions."
                                    : ": there is no such file. Check the path."),
                    e);
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

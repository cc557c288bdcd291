// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.disk;

import java.io.IOException;
import java.nio.ByteBuffer;
import java.nio.channels.FileChannel;
import java.nio.charset.StandardCharsets;
import java.util.HexFormat;
import java.util.Locale;
import java.util.Optional;

/** What no output may take the place of, told by its first bytes: evidence, and keys that nobody can make again. */
final class Precious {
    private static final int HEAD_BYTES = 64 << 10;

    /** PKCS#7 data and signed data (RFC 2315): one of them is what a PKCS#12 file holds (RFC 7292, 4). */
    private static final String PKCS7 = bytes("06092a864886f70d0107");

    private static final String VERSION_3 = bytes("020103");

    private Precious() {}

    private static String bytes(String hex) {
        return new String(HexFormat.of().parseHex(hex), StandardCharsets.ISO_8859_1);
    }

    static Optional<String> what(FileChannel file) throws IOException {
        ByteBuffer head = ByteBuffer.allocate(HEAD_BYTES);
        while (head.hasRemaining() && file.read(head) > 0) {
            // A read may give less than there is.
        }
        String text = new String(head.array(), 0, head.position(), StandardCharsets.ISO_8859_1);
        if (isLog(text)) {
            return Optional.of("a run log");
        }
        return text.contains("PRIVATE KEY-----") || isPkcs12(text) ? Optional.of("a key") : Optional.empty();
    }

    /** The first file of a log, or a further part. */
    private static boolean isLog(String text) {
        String start = text.substring(0, Math.min(text.length(), 1024)).replaceAll("[ \t]", "");
        String line = start.lines().findFirst().orElse("").toLowerCase(Locale.ROOT);
        return line.startsWith("{")
                && (line.contains("\"loadwitness-run/")
                        || (line.contains("\"type\":\"part\"") && line.contains("\"goodchain\":")));
    }

    /** A sequence that begins with version 3 and an outer PKCS#7 content. */
    private static boolean isPkcs12(String text) {
        if (text.length() < 2 || text.charAt(0) != 0x30) {
            return false;
        }
        int length = text.charAt(1);
        int lengthBytes = length <= 0x80 ? 1 : 1 + length - 0x80; // 0x80: of no stated length, in BER
        return text.startsWith(VERSION_3, 1 + lengthBytes)
                && text.substring(0, Math.min(text.length(), 64)).contains(PKCS7);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import java.nio.file.Files;
import java.nio.file.Path;
import java.util.Arrays;
import java.util.concurrent.atomic.AtomicLong;
import java.util.stream.IntStream;

/**
 * Changes every byte of a signed report in turn, by several masks, and counts the changes that the check accepts; it must
 * be none. By hand, because a whole report takes minutes: a small signed file goes through {@link PdfSignatureCheckTest}
 * at each build. After {@code mvn -DskipTests package}:
 *
 * <pre>{@code java -cp reporter/target/test-classes:reporter/target/loadwitness-reporter.jar
 *     dev.loadwitness.reporter.signature.EveryByte report.pdf}</pre>
 */
final class EveryByte {
    /** Each single bit, case of a letter, all bits, and two that turn digits into others. */
    private static final int[] MASKS = {0x01, 0x02, 0x04, 0x08, 0x10, 0x20, 0x40, 0x80, 0xFF, 0x03, 0x0F};

    private EveryByte() {}

    /** Arguments: the file, and masks in hexadecimal if not all are wanted. */
    public static void main(String[] arguments) throws Exception {
        int[] masks = arguments.length == 1
                ? MASKS
                : Arrays.stream(arguments)
                        .skip(1)
                        .mapToInt(m -> Integer.parseInt(m, 16))
                        .toArray();
        byte[] signed = Files.readAllBytes(Path.of(arguments[0]));
        if (!(PdfSignatureCheck.check(signed) instanceof PdfSignatureCheck.Valid)) {
            throw new IllegalArgumentException(arguments[0] + " is not validly signed to begin with");
        }
        AtomicLong accepted = new AtomicLong();
        AtomicLong unsigned = new AtomicLong();
        int parts = Runtime.getRuntime().availableProcessors();
        IntStream.range(0, parts).parallel().forEach(part -> {
            byte[] changed = signed.clone();
            for (int at = part; at < changed.length; at += parts) {
                for (int mask : masks) {
                    changed[at] ^= (byte) mask;
                    PdfSignatureCheck.Result result = PdfSignatureCheck.check(changed);
                    if (result instanceof PdfSignatureCheck.Valid) {
                        accepted.incrementAndGet();
                        System.out.println("accepted: byte " + at + ", mask " + Integer.toHexString(mask));
                    } else if (result instanceof PdfSignatureCheck.NotSigned) {
                        unsigned.incrementAndGet();
                        System.out.println("taken for unsigned: byte " + at + ", mask " + Integer.toHexString(mask));
                    }
                    changed[at] ^= (byte) mask;
                }
            }
        });
        System.out.println(signed.length + " bytes, " + (long) signed.length * masks.length + " changes: " + accepted
                + " accepted, " + unsigned + " taken for unsigned");
        System.exit(accepted.get() == 0 && unsigned.get() == 0 ? 0 : 1);
    }
}

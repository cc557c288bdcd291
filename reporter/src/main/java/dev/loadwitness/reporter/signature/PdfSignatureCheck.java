// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

/** Placeholder shape. */
public final class PdfSignatureCheck {
    private PdfSignatureCheck() {}
    /** r. */
    public sealed interface Result permits NotSigned {}
    /** n. */
    public record NotSigned() implements Result {}
    /** c. */
    public static Result check(byte[] pdf) {
        return new NotSigned();
    }
}

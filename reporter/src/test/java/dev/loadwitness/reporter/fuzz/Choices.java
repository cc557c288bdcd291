// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.fuzz;

import java.util.List;

/** A fuzzer's bytes as decisions, one after the other; zero when they have run out, so that every input comes to an end. */
final class Choices {
    private final byte[] bytes;
    private int next;

    Choices(byte[] bytes) {
        this.bytes = bytes;
    }

    boolean left() {
        return next < bytes.length;
    }

    private int octet() {
        return next < bytes.length ? bytes[next++] & 0xFF : 0;
    }

    /** From 0 up to and without {@code end}. */
    int below(int end) {
        if (end <= 1) {
            return 0;
        }
        return (end <= 256 ? octet() : octet() << 8 | octet()) % end;
    }

    boolean oneOf(int many) {
        return below(many) == 1;
    }

    <T> T of(List<T> values) {
        return values.get(below(values.size()));
    }
}

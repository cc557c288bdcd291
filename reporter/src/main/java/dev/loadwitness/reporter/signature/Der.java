// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;

/** Walks over DER without recursion and without trust: one element after the other inside given bounds. */
final class Der {
    static final int INTEGER = 0x02;
    static final int OCTET_STRING = 0x04;
    static final int OBJECT_IDENTIFIER = 0x06;
    static final int SEQUENCE = 0x30;
    static final int SET = 0x31;
    static final int CONTEXT_0 = 0xA0;

    private final byte[] bytes;
    private int at;
    private final int end;

    Der(byte[] bytes) {
        this(bytes, 0, bytes.length);
    }

    private Der(byte[] bytes, int from, int end) {
        this.bytes = bytes;
        this.at = from;
        this.end = end;
    }

    /** Steps over the next element, which must have this tag, and gives its inside. */
    Der into(int tag) throws SigningException {
        if (at + 2 > end || (bytes[at] & 0xFF) != tag) {
            throw malformed();
        }
        int length = bytes[at + 1] & 0xFF;
        int start = at + 2;
        if (length >= 0x80) {
            int count = length & 0x7F;
            // Three bytes of length are 16 MiB: more than any signature.
            if (count == 0 || count > 3 || start + count > end) {
                throw malformed();
            }
            length = 0;
            for (int i = 0; i < count; i++) {
                length = length << 8 | (bytes[start + i] & 0xFF);
            }
            start += count;
        }
        if (length > end - start) {
            throw malformed();
        }
        at = start + length;
        return new Der(bytes, start, at);
    }

    Der skip(int tag) throws SigningException {
        into(tag);
        return this;
    }

    byte[] content(int tag) throws SigningException {
        Der inside = into(tag);
        return Arrays.copyOfRange(bytes, inside.at, inside.end);
    }

    /** All elements to the end, each with its head; all must have this tag. */
    List<byte[]> all(int tag) throws SigningException {
        List<byte[]> elements = new ArrayList<>();
        while (at < end) {
            int from = at;
            into(tag);
            elements.add(Arrays.copyOfRange(bytes, from, at));
        }
        return elements;
    }

    private static SigningException malformed() {
        return new SigningException("the signature is not of the shape that this program writes");
    }
}

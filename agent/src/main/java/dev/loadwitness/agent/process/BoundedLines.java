// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.process;

import java.io.Closeable;
import java.io.IOException;
import java.io.InputStream;
import java.nio.charset.StandardCharsets;
import java.util.Arrays;
import org.jspecify.annotations.Nullable;

/**
 * What a child process says, line by line, in little memory however much that is. A child that has a driver's code in it may
 * say anything: a line without an end, or bytes that are no text. For one thread.
 */
public final class BoundedLines implements Closeable {
    private static final int FIRST_BYTES = 256;

    private final InputStream in;
    private final byte[] chunk = new byte[8192];
    private final int mostBytes;
    private int next;
    private int filled;
    private byte[] line = new byte[FIRST_BYTES];
    private boolean lastWasCut;

    /**
     * Lines that end with a line feed.
     *
     * @param mostBytes of a line; what is longer is cut there
     */
    public BoundedLines(InputStream in, int mostBytes) {
        this.in = in;
        this.mostBytes = mostBytes;
    }

    /**
     * The next line without its end, read as UTF-8. One that is too long comes cut, as soon as that is known: its end may never
     * come. Null at the end of all; what came after the last line feed is a line.
     */
    public @Nullable String readLine() throws IOException {
        if (lastWasCut) {
            lastWasCut = false;
            skipRest();
        }
        int length = 0;
        for (int b = read(); b != '\n'; b = read()) {
            if (b < 0) {
                return length == 0 ? null : text(length);
            }
            if (length == mostBytes) {
                lastWasCut = true;
                return text(length);
            }
            if (length == line.length) {
                line = Arrays.copyOf(line, Math.min(2 * length, mostBytes));
            }
            line[length++] = (byte) b;
        }
        return text(length);
    }

    /** Whether the line that came last was longer than what was given. */
    public boolean lastWasCut() {
        return lastWasCut;
    }

    private void skipRest() throws IOException {
        int b = read();
        while (b >= 0 && b != '\n') {
            b = read();
        }
    }

    private String text(int length) {
        return new String(line, 0, length, StandardCharsets.UTF_8);
    }

    private int read() throws IOException {
        if (next == filled) {
            next = 0;
            filled = Math.max(0, in.read(chunk));
            if (filled == 0) {
                return -1;
            }
        }
        return chunk[next++] & 0xFF;
    }

    @Override
    public void close() throws IOException {
        in.close();
    }
}

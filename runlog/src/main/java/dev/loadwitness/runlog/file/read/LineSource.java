// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.read;

import dev.loadwitness.runlog.file.line.Chain;
import java.io.IOException;
import java.io.InputStream;
import java.lang.invoke.MethodHandles;
import java.lang.invoke.VarHandle;
import java.nio.ByteOrder;
import java.security.MessageDigest;
import java.util.Arrays;
import java.util.HexFormat;

/** Cuts one file into lines, whatever their length, in bounded memory, and hashes the file while it goes by. */
public final class LineSource implements AutoCloseable {
    private static final int CHUNK = 128 << 10;

    private static final VarHandle EIGHT_BYTES =
            MethodHandles.byteArrayViewVarHandle(long[].class, ByteOrder.LITTLE_ENDIAN);
    private static final long ONES = 0x0101010101010101L;
    private static final long TOP_BITS = 0x8080808080808080L;
    private static final long LINE_FEEDS = '\n' * ONES;

    private final InputStream in;
    private final MessageDigest whole = Chain.sha256();
    private final long limit;

    private byte[] buffer = new byte[2 * CHUNK];
    private int next;
    private int filled;
    private long read;
    private boolean ended;

    private int start;
    private int end;
    private long offset;
    private long length;
    private long lines;
    private boolean terminated;
    private boolean tooLong;

    /** @param limit bytes after which no more lines are cut; the rest is only hashed */
    public LineSource(InputStream in, long limit) {
        this.in = in;
        this.limit = limit;
    }

    /**
     * Goes to the next line. One longer than {@code most} is skipped: its bytes go to {@code skipped}, and only its last
     * {@link Chain#SUFFIX_LENGTH} are then found in {@link #bytes}.
     */
    public boolean next(int most, MessageDigest skipped) throws IOException {
        offset = read - (filled - next);
        int scanned = next;
        tooLong = false;
        while (true) {
            int feed = lineFeed(scanned);
            if (feed >= 0) {
                return line(feed, most, skipped);
            }
            if (filled - next > most) {
                return skipLong(skipped);
            }
            scanned = filled;
            int moved = next;
            if (!fill()) {
                if (filled == next) {
                    return false;
                }
                return lastLine(most, skipped);
            }
            scanned -= moved - next;
        }
    }

    private boolean line(int feed, int most, MessageDigest skipped) throws IOException {
        if (feed - next > most) {
            return skipLong(skipped);
        }
        start = next;
        end = feed;
        next = feed + 1;
        length = (long) end - start;
        terminated = true;
        lines++;
        return true;
    }

    private boolean lastLine(int most, MessageDigest skipped) throws IOException {
        if (filled - next > most) {
            return skipLong(skipped);
        }
        start = next;
        end = filled;
        next = filled;
        length = (long) end - start;
        terminated = false;
        lines++;
        return true;
    }

    private boolean skipLong(MessageDigest skipped) throws IOException {
        tooLong = true;
        lines++;
        length = 0;
        byte[] tail = new byte[0];
        while (true) {
            int feed = lineFeed(next);
            int to = feed >= 0 ? feed : filled;
            skipped.update(buffer, next, to - next);
            length += to - next;
            tail = lastBytes(tail, buffer, next, to);
            next = feed >= 0 ? feed + 1 : filled;
            if (feed >= 0 || !fill()) {
                terminated = feed >= 0;
                break;
            }
        }
        // The tail is put where a line would be; the buffer has room before what is not yet read, or a new one is made.
        if (next < tail.length) {
            byte[] wider = new byte[buffer.length + tail.length];
            System.arraycopy(buffer, next, wider, tail.length, filled - next);
            filled = tail.length + filled - next;
            next = tail.length;
            buffer = wider;
        }
        start = next - tail.length;
        end = next;
        System.arraycopy(tail, 0, buffer, start, tail.length);
        return true;
    }

    private static byte[] lastBytes(byte[] before, byte[] bytes, int from, int to) {
        int keep = Chain.SUFFIX_LENGTH;
        if (to - from >= keep) {
            return Arrays.copyOfRange(bytes, to - keep, to);
        }
        byte[] both = Arrays.copyOf(before, before.length + to - from);
        System.arraycopy(bytes, from, both, before.length, to - from);
        return both.length <= keep ? both : Arrays.copyOfRange(both, both.length - keep, both.length);
    }

    private int lineFeed(int from) {
        byte[] b = buffer;
        int to = filled;
        int i = from;
        // Eight bytes at a time: in a word xored with line feeds, a zero byte is the only one that borrows from its top
        // bit.
        for (; i + Long.BYTES <= to; i += Long.BYTES) {
            long word = (long) EIGHT_BYTES.get(b, i) ^ LINE_FEEDS;
            if (((word - ONES) & ~word & TOP_BITS) != 0) {
                break;
            }
        }
        for (; i < to; i++) {
            if (b[i] == '\n') {
                return i;
            }
        }
        return -1;
    }

    private boolean fill() throws IOException {
        if (ended || read >= limit) {
            return false;
        }
        if (next > 0) {
            System.arraycopy(buffer, next, buffer, 0, filled - next);
            filled -= next;
            next = 0;
        }
        if (buffer.length - filled < CHUNK) {
            buffer = Arrays.copyOf(buffer, 2 * buffer.length);
        }
        int count = in.read(buffer, filled, (int) Math.min(CHUNK, limit - read));
        if (count < 0) {
            ended = true;
            return false;
        }
        whole.update(buffer, filled, count);
        filled += count;
        read += count;
        return true;
    }

    /** Reads what is left, so that {@link #sha256} and {@link #size} are about the whole file. */
    void drain() throws IOException {
        next = 0;
        while (!ended) {
            int count = in.read(buffer, 0, CHUNK);
            if (count < 0) {
                ended = true;
            } else {
                whole.update(buffer, 0, count);
                read += count;
            }
        }
        filled = 0;
    }

    public byte[] bytes() {
        return buffer;
    }

    public int start() {
        return start;
    }

    /** Position after the line's last byte, its line feed not counted. */
    public int end() {
        return end;
    }

    public boolean isTooLong() {
        return tooLong;
    }

    /** Number of this line in its file, from 1. */
    long number() {
        return lines;
    }

    /** Of the line's first byte in its file. */
    long offset() {
        return offset;
    }

    /** With its line feed, if it has one. */
    long lengthWithFeed() {
        return terminated ? length + 1 : length;
    }

    boolean isTerminated() {
        return terminated;
    }

    long size() {
        return read;
    }

    String sha256() {
        return HexFormat.of().formatHex(whole.digest());
    }

    @Override
    public void close() throws IOException {
        in.close();
    }
}

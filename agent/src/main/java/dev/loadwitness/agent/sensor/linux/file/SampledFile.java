// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux.file;

import java.io.IOException;
import java.nio.ByteBuffer;
import java.nio.channels.FileChannel;
import java.nio.charset.StandardCharsets;
import java.nio.file.NoSuchFileException;
import java.nio.file.Path;
import java.nio.file.StandardOpenOption;
import java.util.List;
import org.jspecify.annotations.Nullable;

/**
 * One attribute of the kernel, kept open and read from its start each time, which makes the kernel produce it anew.
 * After a failure it is opened again at the next read, since a device that left and came back has new files.
 *
 * <p>Not for several threads; the thread that reads must never be interrupted, which would close the file.
 */
public final class SampledFile {
    private final Path path;
    private final ByteBuffer buffer;
    private @Nullable FileChannel channel;

    public SampledFile(Path path) {
        this(path, 256);
    }

    /** @param mostBytes of the file that matter */
    public SampledFile(Path path, int mostBytes) {
        this.path = path;
        buffer = ByteBuffer.allocateDirect(mostBytes);
    }

    /**
     * The decimal integer at the start of the file.
     *
     * @throws IOException if there is no answer, or it is not a number
     */
    public long number() throws IOException {
        load();
        return numberAt(0);
    }

    /**
     * The decimal integer after {@code name} and a space at the start of one of the file's lines.
     *
     * @throws IOException if there is no answer, no such line, or it is not a number
     */
    public long numberOf(String name) throws IOException {
        load();
        for (int at = 0; at + name.length() < buffer.limit(); at++) {
            if ((at == 0 || buffer.get(at - 1) == '\n')
                    && startsWithAt(name, at)
                    && buffer.get(at + name.length()) == ' ') {
                return numberAt(at + name.length() + 1);
            }
        }
        throw new IOException(path.getFileName() + " has no line '" + name + "'");
    }

    private long numberAt(int start) throws IOException {
        boolean negative = start < buffer.limit() && buffer.get(start) == '-';
        int at = negative ? start + 1 : start;
        long value = 0;
        int digits = 0;
        while (at < buffer.limit() && isDigit(buffer.get(at))) {
            value = value * 10 + (buffer.get(at) - '0');
            at++;
            digits++;
        }
        boolean ended = at == buffer.limit() || buffer.get(at) == '\n' || buffer.get(at) == ' ';
        if (digits == 0 || digits > 18 || !ended) {
            throw new IOException(path.getFileName() + " reads '" + printable() + "', which is not a whole number");
        }
        return negative ? -value : value;
    }

    /** Whether the file's text begins with this ASCII word. */
    public boolean startsWith(String word) throws IOException {
        load();
        return startsWithLoaded(word);
    }

    /** The same about what the last read gave, without reading again. */
    public boolean startsWithLoaded(String word) {
        return startsWithAt(word, 0);
    }

    private boolean startsWithAt(String word, int at) {
        if (buffer.limit() - at < word.length()) {
            return false;
        }
        for (int i = 0; i < word.length(); i++) {
            if (buffer.get(at + i) != word.charAt(i)) {
                return false;
            }
        }
        return true;
    }

    /** The first bytes of the file; valid until the next read. */
    public ByteBuffer bytes() throws IOException {
        load();
        return buffer;
    }

    private void load() throws IOException {
        buffer.clear();
        try {
            if (channel == null) {
                channel = open();
            }
            channel.read(buffer, 0);
        } catch (IOException e) {
            close();
            throw new IOException(path.getFileName() + ": " + reason(e), e);
        }
        buffer.flip();
        if (!buffer.hasRemaining()) {
            close();
            throw new IOException(path.getFileName() + " is empty");
        }
    }

    private FileChannel open() throws IOException {
        try {
            return FileChannel.open(path, StandardOpenOption.READ);
        } catch (NoSuchFileException e) {
            List<Path> chipsOfDevice = chipsOfADevice(path.getParent());
            if (chipsOfDevice.size() != 1) {
                throw e;
            }
            return FileChannel.open(chipsOfDevice.get(0).resolve(path.getFileName()), StandardOpenOption.READ);
        }
    }

    /** {@code …/device/hwmon/hwmonN}: a device that comes back gets another N, and is known by where it is. */
    private static List<Path> chipsOfADevice(@Nullable Path chip) {
        Path chips = chip == null ? null : chip.getParent();
        return chip != null
                        && chips != null
                        && chips.endsWith("hwmon")
                        && chip.getFileName().toString().startsWith("hwmon")
                ? Sysfs.list(chips)
                : List.of();
    }

    private static String reason(IOException e) {
        String message = e.getMessage();
        return e.getClass() == IOException.class && message != null
                ? message
                : e.getClass().getSimpleName();
    }

    private String printable() {
        byte[] bytes = new byte[Math.min(20, buffer.limit())];
        buffer.get(0, bytes);
        return Sysfs.printable(new String(bytes, StandardCharsets.UTF_8));
    }

    private static boolean isDigit(byte b) {
        return b >= '0' && b <= '9';
    }

    public void close() {
        if (channel != null) {
            try {
                channel.close();
            } catch (IOException e) {
                // Opened for reading only: nothing can be lost, and a new one is opened when needed.
            }
            channel = null;
        }
    }
}

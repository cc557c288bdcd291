// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.linux;

import dev.loadwitness.runlog.ending.Found;
import java.io.IOException;
import java.nio.ByteBuffer;
import java.nio.ByteOrder;
import java.nio.channels.FileChannel;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.nio.file.StandardOpenOption;
import java.time.Instant;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;

/**
 * wtmp: fixed records of utmp(5), 384 bytes each as glibc lays them out on x86-64. Of each only its type, its time and
 * whether it is a shutdown is looked at: no name of a person or host leaves this class.
 */
final class LoginRecords {
    static final int RECORD_BYTES = 384;
    private static final int USER_AT = 44;
    private static final int USER_BYTES = 32;
    private static final int SECONDS_AT = 340;
    private static final short RUN_LEVEL = 1;
    private static final short BOOT_TIME = 2;
    private static final int MOST_RECORDS = 50_000;

    /** Common practice, no source: the boot record is written some seconds after the clock was set. */
    private static final long SLACK_SECONDS = 2;

    enum Kind {
        BOOT,
        SHUTDOWN
    }

    /** One record that matters here. */
    record Mark(Kind kind, Instant at) {}

    private LoginRecords() {}

    /** The newest records of the file, oldest first; a torn one at its end is left out. */
    static List<Mark> read(Path file) throws IOException {
        if (Files.exists(file) && !Files.isRegularFile(file)) {
            throw new IOException(file.getFileName() + " is not a file");
        }
        List<Mark> marks = new ArrayList<>();
        try (FileChannel channel = FileChannel.open(file, StandardOpenOption.READ)) {
            long records = channel.size() / RECORD_BYTES;
            long first = Math.max(0, records - MOST_RECORDS);
            ByteBuffer buffer = ByteBuffer.allocate((int) (records - first) * RECORD_BYTES);
            channel.position(first * RECORD_BYTES);
            while (buffer.hasRemaining() && channel.read(buffer) >= 0) {
                // until full, or the file has shrunk
            }
            buffer.flip().order(ByteOrder.LITTLE_ENDIAN);
            for (int at = 0; at + RECORD_BYTES <= buffer.limit(); at += RECORD_BYTES) {
                Instant time = Instant.ofEpochSecond(Integer.toUnsignedLong(buffer.getInt(at + SECONDS_AT)));
                short type = buffer.getShort(at);
                if (type == BOOT_TIME) {
                    marks.add(new Mark(Kind.BOOT, time));
                } else if (type == RUN_LEVEL && user(buffer, at).equals("shutdown")) {
                    marks.add(new Mark(Kind.SHUTDOWN, time));
                }
            }
        }
        return marks;
    }

    private static String user(ByteBuffer buffer, int record) {
        byte[] bytes = new byte[USER_BYTES];
        buffer.get(record + USER_AT, bytes);
        int end = 0;
        while (end < bytes.length && bytes[end] != 0) {
            end++;
        }
        return new String(bytes, 0, end, StandardCharsets.ISO_8859_1);
    }

    /**
     * What stands between the start of the boot in which {@code sample} was taken and the next start. Empty if that boot's
     * start or the next one is not there: then the absence of a shutdown says nothing.
     */
    static Optional<Found> after(List<Mark> marks, Instant sample) {
        int boot = -1;
        for (int i = 0; i < marks.size(); i++) {
            Mark mark = marks.get(i);
            if (mark.kind == Kind.BOOT && !mark.at.isAfter(sample.plusSeconds(SLACK_SECONDS))) {
                boot = i;
            }
        }
        if (boot < 0 || boot + 1 == marks.size()) {
            return Optional.empty();
        }
        Mark next = marks.get(boot + 1);
        if (next.kind == Kind.SHUTDOWN && next.at.isBefore(sample.minusSeconds(SLACK_SECONDS))) {
            return Optional
                    .empty(); // of an earlier boot: a cut can lose the record of a start that was not yet on the disk
        }
        return Optional.of(next.kind == Kind.SHUTDOWN ? Found.SHUTDOWN : Found.NONE);
    }
}

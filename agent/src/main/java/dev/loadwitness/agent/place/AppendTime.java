// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.place;

import dev.loadwitness.runlog.disk.Folder;
import java.io.IOException;
import java.nio.ByteBuffer;
import java.nio.channels.FileChannel;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.security.SecureRandom;
import java.time.Duration;
import java.util.Arrays;
import java.util.Locale;
import java.util.function.LongSupplier;
import java.util.regex.Pattern;

/**
 * How long a record of usual size takes until it is on the disk, one at a time.
 *
 * @param medianSeconds of all appends
 * @param p99Seconds nearest-rank 99th percentile; with fewer than 100 appends that is the longest
 * @param appends how many were timed
 */
public record AppendTime(double medianSeconds, double p99Seconds, int appends) {
    /** A record on its way to the disk and back. */
    interface Disk {
        /** Returns when the bytes of one record are on the disk. */
        void append() throws IOException;
    }

    /** All that a file of a measurement holds, again and again: about as long as a record, and told by {@code clean}. */
    private static final byte[] RECORD = String.format(
                    Locale.ROOT,
                    "%-499s%n",
                    "The Loadwitness agent measured with this file how quick its disk is, and was killed. Remove it.")
            .getBytes(StandardCharsets.US_ASCII);

    /** As much of a file as {@link #isLeft} looks at. */
    public static final int HEAD_BYTES = 500;

    private static final String PREFIX = "loadwitness-probe";
    private static final String SUFFIX = ".tmp";
    private static final SecureRandom RANDOM = new SecureRandom();
    private static final int FEWEST = 3;
    private static final int MOST = 400;

    /**
     * Times appends in {@code folder} until {@code budget} is used up; a disk that hangs is waited for. The file for it is
     * gone afterwards; if this program is killed meanwhile, {@code clean} finds it by its name.
     *
     * @throws IOException if nothing can be written there
     */
    public static AppendTime measure(Path folder, Duration budget) throws IOException {
        Folder place = Folder.at(folder);
        String name = PREFIX + RANDOM.nextLong(Long.MAX_VALUE) + SUFFIX;
        // The very file that was made is written to, never what has its name by then.
        try (FileChannel channel = place.create(name)) {
            ByteBuffer record = ByteBuffer.wrap(RECORD);
            return measure(
                    () -> {
                        record.clear();
                        while (record.hasRemaining()) {
                            if (channel.write(record) == 0) {
                                throw new IOException("no room left");
                            }
                        }
                        channel.force(false);
                    },
                    System::nanoTime,
                    budget);
        } finally {
            place.delete(name);
        }
    }

    /**
     * Whether a file is what a killed measurement left.
     *
     * @param head its first bytes, {@value #HEAD_BYTES} or all
     */
    public static boolean isLeft(String name, byte[] head) {
        return name.matches(PREFIX + "\\d+" + Pattern.quote(SUFFIX))
                && head.length <= RECORD.length
                && Arrays.equals(head, Arrays.copyOf(RECORD, head.length));
    }

    static AppendTime measure(Disk disk, LongSupplier nanoClock, Duration budget) throws IOException {
        double[] seconds = new double[MOST];
        int count = 0;
        long begin = nanoClock.getAsLong();
        long before = begin;
        while (count < MOST && (count < FEWEST || before - begin < budget.toNanos())) {
            disk.append();
            long after = nanoClock.getAsLong();
            seconds[count] = (after - before) / 1e9;
            count++;
            before = after;
            if (count > 0 && before - begin >= 2 * budget.toNanos()) {
                break; // slower than anything that three of them could tell better
            }
        }
        Arrays.sort(seconds, 0, count);
        return new AppendTime(percentile(seconds, count, 0.5), percentile(seconds, count, 0.99), count);
    }

    /** Nearest rank. */
    private static double percentile(double[] sorted, int count, double share) {
        return sorted[Math.max(0, (int) Math.ceil(share * count) - 1)];
    }

    /** How many records a second this disk carries if each is to be durable before the next: 1 / p99. */
    public double recordsPerSecond() {
        return 1 / Math.max(p99Seconds, 1e-9);
    }

    /**
     * The largest age that a record not yet on the disk reaches, at one record each {@code period}, when an append takes
     * as long as the 99th percentile. The writer forces in one go what has gathered, so a slow disk loses nothing: a
     * record that comes while a force is under way waits for its end, and then for its own.
     */
    public Duration oldestUndurable(Duration period) {
        Duration append = Duration.ofNanos(Math.round(p99Seconds * 1e9));
        return append.compareTo(period) <= 0 ? append : append.multipliedBy(2);
    }
}

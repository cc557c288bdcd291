// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.gpu;

import com.sun.jna.Memory;
import dev.loadwitness.agent.load.memory.Backgrounds;
import dev.loadwitness.agent.load.opencl.Compute;
import dev.loadwitness.agent.load.opencl.OpenClException;
import dev.loadwitness.agent.load.worker.Worker;
import java.util.ArrayDeque;
import java.util.ArrayList;
import java.util.Deque;
import java.util.List;
import java.util.Locale;

/**
 * The march test of {@code agent.load.memory} on the device's own memory, once over a stated share of it. The pieces of one
 * buffer go one after the other, up or down as the march says; within a piece the device does words in an order of its own.
 * Before it, every word holds a number made of its own place, which shows words that share an address.
 */
final class March {
    private static final int WORD_BYTES = 16;
    private static final long PIECE_WORDS = (16L << 20) / WORD_BYTES;
    /** A quick device does a piece in less time than it takes to ask whether it has. */
    private static final int MOST_FLYING = 8;

    private static final long BUFFER_BYTES = 1L << 30;
    private static final long PLANTED_BIT = 1L << 17;
    private static final int COUNT_BYTES = 2 * Integer.BYTES;
    private static final int READS_AND_WRITES_A_BACKGROUND = 10;

    private final Compute compute;
    private final Worker.Bench bench;
    private final Compute.Kernel march;
    private final Compute.Kernel places;
    private final Compute.Buffer report;
    private final Compute.Buffer count;
    private final int group;
    private final List<Compute.Buffer> buffers = new ArrayList<>();
    private long bytes;
    private long plantedWord = -1;

    March(Compute compute, Compute.Program program, Worker.Bench bench) {
        this.compute = compute;
        this.bench = bench;
        this.march = program.kernel("march");
        this.places = program.kernel("march_places");
        this.group = Integer.highestOneBit(Math.min(256, Math.min(march.workGroup(), places.workGroup())));
        this.report = compute.buffer(2 * Long.BYTES);
        this.count = compute.buffer(COUNT_BYTES);
    }

    /**
     * Tests so much memory, or as much of it as the device gives; returns how much that was.
     *
     * @throws OpenClException of kind OUT_OF_MEMORY if it gives none
     */
    long run(long wanted) {
        long largest = Math.min(BUFFER_BYTES, compute.device().allocationBytes());
        largest -= largest % ((long) WORD_BYTES * group);
        try {
            take(wanted, largest);
            if (bytes == 0) {
                throw OpenClException.tooLittle("of " + (wanted >> 20)
                        + " MiB of graphics memory that are to be tested, the device gives none");
            }
            for (int i = 0; i < buffers.size() && bench.goesOn(); i++) {
                places(i, false);
            }
            for (int i = 0; i < buffers.size() && bench.goesOn(); i++) {
                places(i, true);
            }
            for (int i = 0; i < buffers.size() && bench.goesOn(); i++) {
                for (long background : Backgrounds.OF_64_BITS) {
                    background(i, background);
                }
            }
            return bytes;
        } finally {
            buffers.forEach(Compute.Buffer::close);
            march.close();
            places.close();
            report.close();
            count.close();
        }
    }

    private void take(long wanted, long largest) {
        while (bytes < wanted) {
            long next = Math.min(largest, wanted - bytes);
            next -= next % ((long) WORD_BYTES * group);
            if (next == 0) {
                return;
            }
            try {
                Compute.Buffer buffer = compute.buffer(next);
                buffers.add(buffer);
                touch(buffer);
                bytes += next;
            } catch (OpenClException e) {
                if (e.kind() != OpenClException.Kind.OUT_OF_MEMORY || bytes == 0) {
                    throw e;
                }
                return;
            }
        }
    }

    /** Drivers give memory only when it is used. */
    private void touch(Compute.Buffer buffer) {
        Memory word = new Memory(WORD_BYTES);
        word.clear();
        Compute.Command write = compute.write(buffer, buffer.bytes() - WORD_BYTES, word, WORD_BYTES);
        compute.flush();
        write.await(System.nanoTime());
        write.release();
    }

    private void places(int index, boolean reads) {
        Compute.Buffer buffer = buffers.get(index);
        long base = (long) index * (BUFFER_BYTES / Long.BYTES);
        places.set(0, buffer).set(2, base).set(3, reads ? 1 : 0).set(4, report).set(5, count);
        clearCount();
        pieces(buffer, false, (first, last) -> {
            places.set(1, (int) first);
            return compute.run(places, last - first + 1, group);
        });
        if (reads) {
            look(index, "its own place", 0);
            credit(2 * buffer.bytes());
        }
    }

    private void background(int index, long zero) {
        long one = ~zero;
        boolean right = element(index, false, 0, zero, false, true)
                && element(index, false, zero, one, true, true)
                && element(index, false, one, zero, true, true)
                && element(index, true, zero, one, true, true)
                && element(index, true, one, zero, true, true)
                && element(index, false, zero, 0, true, false);
        if (right) {
            credit(READS_AND_WRITES_A_BACKGROUND * buffers.get(index).bytes());
        }
    }

    private double credit;

    private void credit(long moved) {
        credit += moved / 1e9;
        long whole = (long) credit;
        bench.right(whole);
        credit -= whole;
    }

    private boolean element(int index, boolean down, long expected, long next, boolean reads, boolean writes) {
        if (!bench.goesOn()) {
            return false;
        }
        Compute.Buffer buffer = buffers.get(index);
        march.set(0, buffer)
                .set(3, expected)
                .set(4, next)
                .set(5, reads ? 1 : 0)
                .set(6, writes ? 1 : 0)
                .set(7, down ? 1 : 0)
                .set(8, report)
                .set(9, count);
        if (reads && bench.takePlant()) {
            plantedWord = 2 * (buffer.bytes() / WORD_BYTES / 3);
            Memory word = new Memory(Long.BYTES);
            word.setLong(0, expected ^ PLANTED_BIT);
            Compute.Command write = compute.write(buffer, plantedWord * Long.BYTES, word, Long.BYTES);
            compute.flush();
            write.await(System.nanoTime());
            write.release();
        }
        clearCount();
        pieces(buffer, down, (first, last) -> {
            march.set(1, (int) first).set(2, (int) last);
            return compute.run(march, last - first + 1, group);
        });
        return !reads || look(index, String.format(Locale.ROOT, "%016x", expected), expected);
    }

    /** Hands over a piece. */
    private interface Piece {
        Compute.Command run(long first, long last);
    }

    private void pieces(Compute.Buffer buffer, boolean down, Piece piece) {
        long words = buffer.bytes() / WORD_BYTES;
        long pieces = (words + PIECE_WORDS - 1) / PIECE_WORDS;
        Deque<Compute.Command> flying = new ArrayDeque<>();
        for (long i = 0; i < pieces; i++) {
            long number = down ? pieces - 1 - i : i;
            long first = number * PIECE_WORDS;
            Compute.Command now = piece.run(first, Math.min(words, first + PIECE_WORDS) - 1);
            compute.flush();
            flying.add(now);
            if (flying.size() == MOST_FLYING) {
                // In order: when the last is done, all are.
                now.await(System.nanoTime());
                flying.forEach(Compute.Command::release);
                flying.clear();
            }
        }
        if (!flying.isEmpty()) {
            flying.getLast().await(System.nanoTime());
            flying.forEach(Compute.Command::release);
        }
    }

    private void clearCount() {
        Memory zero = new Memory(COUNT_BYTES);
        zero.clear();
        Compute.Command write = compute.write(count, 0, zero, COUNT_BYTES);
        compute.flush();
        write.await(System.nanoTime());
        write.release();
    }

    /** Whether nothing was wrong. */
    private boolean look(int index, String expected, long word) {
        Memory number = new Memory(COUNT_BYTES);
        number.clear();
        Compute.Command read = compute.read(count, 0, number, COUNT_BYTES);
        Memory first = new Memory(2 * Long.BYTES);
        Compute.Command readFirst = compute.read(report, 0, first, 2 * Long.BYTES);
        compute.flush();
        readFirst.await(System.nanoTime());
        read.release();
        readFirst.release();
        int wrong = number.getInt(0);
        long groups = Integer.toUnsignedLong(number.getInt(Integer.BYTES));
        long expectedGroups = buffers.get(index).bytes() / WORD_BYTES / group;
        if (groups != expectedGroups) {
            bench.wrong(String.format(
                    Locale.ROOT,
                    "graphics memory, buffer %d: the device did %d of %d pieces of work, and the driver says that all is done",
                    index,
                    groups,
                    expectedGroups));
            return false;
        }
        if (wrong == 0) {
            return true;
        }
        long place = first.getLong(0);
        long got = first.getLong(Long.BYTES);
        if (wrong == 1 && place == plantedWord && got == (word ^ PLANTED_BIT)) {
            plantedWord = -1;
            bench.plantCaught();
            return false;
        }
        bench.wrong(String.format(
                Locale.ROOT,
                "graphics memory, buffer %d: %d places of 16 bytes wrong, one of them word %d: wrote %s, read %016x",
                index,
                Integer.toUnsignedLong(wrong),
                place,
                expected,
                got));
        return false;
    }
}

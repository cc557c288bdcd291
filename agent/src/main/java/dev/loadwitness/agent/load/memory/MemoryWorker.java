// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.memory;

import dev.loadwitness.agent.load.worker.Worker;
import java.nio.ByteBuffer;
import java.nio.ByteOrder;
import java.nio.LongBuffer;
import java.util.ArrayList;
import java.util.List;
import java.util.Locale;

/**
 * Takes a share of memory through {@link MemoryMarch}, region by region. One unit is one MiB that went through
 * the whole march without a mismatch. Every thread has regions of its own, allocated as it comes to them and kept, so that the
 * whole share is in use at the end; then it begins again.
 */
public final class MemoryWorker implements Worker {
    private static final int UNIT_BYTES = 1 << 20;

    /** Together the threads' regions are far larger than a last-level cache, or the test would test the cache. */
    private static final int REGION_BYTES = 128 << 20;

    private final int threads;
    private final long bytes;

    /**
     * Makes a worker.
     *
     * @param bytes to be tested by all threads together; at least one MiB a thread
     */
    public MemoryWorker(int threads, long bytes) {
        if (bytes / threads < UNIT_BYTES) {
            throw new IllegalArgumentException(bytes + " bytes are too few for " + threads + " threads");
        }
        this.threads = threads;
        this.bytes = bytes;
    }

    @Override
    public int threads() {
        return threads;
    }

    @Override
    public void work(int thread, Bench bench) {
        long share = bytes / threads / UNIT_BYTES * UNIT_BYTES;
        List<Region> regions = new ArrayList<>();
        long allocated = 0;
        while (bench.goesOn()) {
            for (int next = 0; allocated < share || next < regions.size(); next++) {
                if (next == regions.size()) {
                    int size = (int) Math.min(REGION_BYTES, share - allocated);
                    regions.add(new Region(thread + "." + next, size, bench));
                    allocated += size;
                }
                if (!regions.get(next).march()) {
                    return;
                }
            }
        }
    }

    /** One piece of memory off the heap, and what its march finds. */
    private static final class Region implements Words, MemoryMarch.Observer {
        private final String name;
        private final LongBuffer memory;
        private final Bench bench;
        private boolean clean;
        private int plantedAt = -1;
        private long plantedBit;

        Region(String name, int size, Bench bench) {
            this.name = name;
            this.memory = ByteBuffer.allocateDirect(size)
                    .order(ByteOrder.nativeOrder())
                    .asLongBuffer();
            this.bench = bench;
        }

        boolean march() {
            clean = true;
            boolean ranThrough = new MemoryMarch(this, UNIT_BYTES / Long.BYTES, this).run();
            if (ranThrough && clean) {
                bench.right(memory.capacity() / (UNIT_BYTES / Long.BYTES));
            }
            return ranThrough;
        }

        @Override
        public int size() {
            return memory.capacity();
        }

        @Override
        public long read(int address) {
            return memory.get(address);
        }

        @Override
        public void write(int address, long word) {
            memory.put(address, word);
        }

        @Override
        public boolean blockDone() {
            return bench.goesOn();
        }

        @Override
        public void mismatch(int address, long expected, long got) {
            clean = false;
            if (address == plantedAt && (expected ^ got) == plantedBit) {
                plantedAt = -1;
                bench.plantCaught();
                return;
            }
            bench.wrong(String.format(
                    Locale.ROOT, "region %s word %d: wrote %016x, read %016x", name, address, expected, got));
        }

        @Override
        public void betweenElements(Words words) {
            if (plantedAt < 0 && bench.takePlant()) {
                plantedAt = words.size() / 3;
                plantedBit = 1L << 17;
                words.write(plantedAt, words.read(plantedAt) ^ plantedBit);
            }
        }
    }
}

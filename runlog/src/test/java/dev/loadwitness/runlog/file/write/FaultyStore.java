// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import dev.loadwitness.runlog.file.store.LogFile;
import dev.loadwitness.runlog.file.store.LogStore;
import java.io.ByteArrayInputStream;
import java.io.Closeable;
import java.io.FileNotFoundException;
import java.io.IOException;
import java.io.InputStream;
import java.nio.ByteBuffer;
import java.nio.file.FileAlreadyExistsException;
import java.util.Arrays;
import java.util.BitSet;
import java.util.HashSet;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.Random;
import java.util.Set;
import java.util.TreeMap;

/**
 * A disk in memory that fails as real ones do: writes come short or find no room, a force stalls or fails, and at a
 * power cut only what was forced is sure to be there. After a failed force the bytes it was about are no longer known
 * to need writing, so a later force does not save them either (as Linux does it).
 */
final class FaultyStore implements LogStore {
    private final Random random;
    private final Map<String, Content> files = new TreeMap<>();
    private final Set<String> locked = new HashSet<>();
    private boolean powerless;
    private boolean readOnly;
    private int writesFailed;

    // What may go wrong; all of it guarded by this.
    long room = Long.MAX_VALUE;
    double shortWrites;
    double failingForces;
    double failingWrites;
    int forcesToFail;
    long stallMillis;

    FaultyStore(long seed) {
        random = new Random(seed);
    }

    private static final class Content {
        byte[] seen = new byte[0];
        byte[] durable = new byte[0];
        final BitSet dirty = new BitSet();
    }

    @Override
    public synchronized LogFile create(String name) throws IOException {
        writable();
        if (files.containsKey(name)) {
            throw new FileAlreadyExistsException(name);
        }
        files.put(name, new Content());
        return new Open(name, files.get(name));
    }

    @Override
    public synchronized LogFile append(String name) throws IOException {
        writable();
        return new Open(name, find(name));
    }

    private Content find(String name) throws IOException {
        Content content = files.get(name);
        if (content == null) {
            throw new FileNotFoundException(name);
        }
        return content;
    }

    @Override
    public synchronized InputStream read(String name) throws IOException {
        power();
        return new ByteArrayInputStream(find(name).seen.clone());
    }

    @Override
    public synchronized void delete(String name) throws IOException {
        writable();
        files.remove(name);
    }

    @Override
    public synchronized List<String> list() {
        return List.copyOf(files.keySet());
    }

    @Override
    public synchronized long usableBytes() {
        return Math.max(0, room - usedBytes());
    }

    synchronized long usedBytes() {
        return files.values().stream().mapToLong(file -> file.seen.length).sum();
    }

    @Override
    public synchronized Optional<Closeable> lock(String name) throws IOException {
        writable();
        files.putIfAbsent(name, new Content());
        return locked.add(name) ? Optional.of(() -> unlock(name)) : Optional.empty();
    }

    private synchronized void unlock(String name) {
        locked.remove(name);
    }

    synchronized boolean isLocked(String name) {
        return locked.contains(name);
    }

    @Override
    public String describe(String name) {
        return name;
    }

    private void power() throws IOException {
        if (powerless) {
            throw new IOException("no power");
        }
    }

    private void writable() throws IOException {
        power();
        if (readOnly) {
            throw new IOException("read-only file system");
        }
    }

    synchronized void setReadOnly(boolean readOnly) {
        this.readOnly = readOnly;
    }

    synchronized void setRoom(long room) {
        this.room = room;
    }

    synchronized void stall(long millis) {
        stallMillis = millis;
    }

    synchronized void failForces(int count) {
        forcesToFail = count;
    }

    synchronized int writesFailed() {
        return writesFailed;
    }

    synchronized void failWrites(double share) {
        failingWrites = share;
    }

    synchronized void disturb(double shortWrites, double failingForces, double failingWrites) {
        this.shortWrites = shortWrites;
        this.failingForces = failingForces;
        this.failingWrites = failingWrites;
    }

    /** Cuts the power: this disk answers no more. Returns the disk as it is found afterwards. */
    synchronized FaultyStore cutPower() {
        powerless = true;
        FaultyStore after = new FaultyStore(random.nextLong());
        files.forEach((name, file) -> {
            Content found = new Content();
            persistSome(file);
            found.seen = file.durable.clone();
            found.durable = file.durable.clone();
            after.files.put(name, found);
        });
        return after;
    }

    /** A disk that lied when it said that it had written: the end of a file is gone. */
    synchronized void forget(String name, int bytes) {
        Content file = files.get(name);
        file.seen = Arrays.copyOf(file.seen, file.seen.length - bytes);
        file.durable = file.seen.clone();
    }

    /** Some of what was written and not forced is on the disk all the same, in no order, in blocks. */
    private void persistSome(Content file) {
        int block = 1 << (4 + random.nextInt(8));
        for (int from = file.dirty.nextSetBit(0); from >= 0; from = file.dirty.nextSetBit(from + 1)) {
            int to = Math.min(from + block, file.dirty.nextClearBit(from));
            if (random.nextInt(3) > 0) {
                persist(file, from, to);
            }
            from = to - 1;
        }
    }

    private static void persist(Content file, int from, int to) {
        if (file.durable.length < to) {
            file.durable = Arrays.copyOf(file.durable, to);
        }
        System.arraycopy(file.seen, from, file.durable, from, to - from);
    }

    private final class Open implements LogFile {
        private final String name;
        private final Content content;

        Open(String name, Content content) {
            this.name = name;
            this.content = content;
        }

        @Override
        public int write(ByteBuffer bytes) throws IOException {
            synchronized (FaultyStore.this) {
                writable();
                if (random.nextDouble() < failingWrites) {
                    writesFailed++;
                    throw new IOException("input/output error");
                }
                long free = room - usedBytes();
                if (free <= 0) {
                    throw new IOException("no space left on device");
                }
                int count = (int) Math.min(free, bytes.remaining());
                if (random.nextDouble() < shortWrites) {
                    count = 1 + random.nextInt(count);
                }
                int at = content.seen.length;
                content.seen = Arrays.copyOf(content.seen, at + count);
                bytes.get(content.seen, at, count);
                content.dirty.set(at, at + count);
                return count;
            }
        }

        @Override
        public void force() throws IOException {
            stall();
            synchronized (FaultyStore.this) {
                power();
                if (forcesToFail > 0 || random.nextDouble() < failingForces) {
                    forcesToFail = Math.max(0, forcesToFail - 1);
                    persistSome(content);
                    content.dirty.clear();
                    throw new IOException("input/output error");
                }
                for (int from = content.dirty.nextSetBit(0); from >= 0; from = content.dirty.nextSetBit(from)) {
                    int to = content.dirty.nextClearBit(from);
                    persist(content, from, to);
                    from = to;
                }
                content.dirty.clear();
            }
        }

        private void stall() {
            long millis;
            synchronized (FaultyStore.this) {
                millis = stallMillis;
            }
            if (millis > 0) {
                try {
                    Thread.sleep(millis);
                } catch (InterruptedException e) {
                    Thread.currentThread().interrupt();
                }
            }
        }

        @Override
        public long size() {
            synchronized (FaultyStore.this) {
                return content.seen.length;
            }
        }

        @Override
        public boolean isCurrent() {
            synchronized (FaultyStore.this) {
                return !powerless && files.get(name) == content;
            }
        }

        @Override
        public void close() {}
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import dev.loadwitness.runlog.file.store.LogFile;
import dev.loadwitness.runlog.file.store.LogStore;
import java.io.Closeable;
import java.io.IOException;
import java.io.InputStream;
import java.io.UncheckedIOException;
import java.nio.ByteBuffer;
import java.util.List;
import java.util.Optional;
import java.util.function.Supplier;

/** A disk whose calls fail as Java's file functions do now and then: with what no method declares. */
final class UncheckedStore implements LogStore {
    private static final List<Supplier<Throwable>> KINDS = List.of(
            () -> new UncheckedIOException(new IOException("input/output error")),
            () -> new IllegalStateException("not in any contract"),
            () -> new InternalError("a fault in an unsafe memory access operation"),
            () -> new OutOfMemoryError("planted"));

    private final LogStore store;
    private int calls;
    private int firstFailing = Integer.MAX_VALUE;
    private int lastFailing;
    private int failed;

    UncheckedStore(LogStore store) {
        this.store = store;
    }

    /** From now on, the call of that number fails and so do the next, as many as that. */
    synchronized void failFrom(int call, int howMany) {
        calls = 0;
        firstFailing = call;
        lastFailing = call + howMany - 1;
    }

    synchronized int failed() {
        return failed;
    }

    @SuppressWarnings("TypeParameterUnusedInFormals") // the caller's exception type, inferred to be none
    private static <E extends Throwable> void sneak(Throwable e) throws E {
        @SuppressWarnings("unchecked")
        E any = (E) e;
        throw any;
    }

    private synchronized void count() {
        calls++;
        if (calls >= firstFailing && calls <= lastFailing) {
            failed++;
            UncheckedStore.<RuntimeException>sneak(
                    KINDS.get(calls % KINDS.size()).get());
        }
    }

    @Override
    public LogFile create(String name) throws IOException {
        count();
        return new Opened(store.create(name));
    }

    @Override
    public LogFile append(String name) throws IOException {
        count();
        return new Opened(store.append(name));
    }

    @Override
    public InputStream read(String name) throws IOException {
        count();
        InputStream in = store.read(name);
        return new InputStream() {
            @Override
            public int read() throws IOException {
                count();
                return in.read();
            }

            @Override
            public int read(byte[] into, int from, int length) throws IOException {
                count();
                return in.read(into, from, length);
            }

            @Override
            public long skip(long bytes) throws IOException {
                count();
                return in.skip(bytes);
            }

            @Override
            public void close() throws IOException {
                in.close();
                count();
            }
        };
    }

    @Override
    public void delete(String name) throws IOException {
        count();
        store.delete(name);
    }

    @Override
    public List<String> list() throws IOException {
        count();
        return store.list();
    }

    @Override
    public long usableBytes() throws IOException {
        count();
        return store.usableBytes();
    }

    @Override
    public Optional<Closeable> lock(String name) throws IOException {
        count();
        return store.lock(name).map(held -> () -> {
            held.close();
            count();
        });
    }

    @Override
    public String describe(String name) {
        return store.describe(name);
    }

    private final class Opened implements LogFile {
        private final LogFile file;

        Opened(LogFile file) {
            this.file = file;
        }

        @Override
        public int write(ByteBuffer bytes) throws IOException {
            count();
            return file.write(bytes);
        }

        @Override
        public void force() throws IOException {
            count();
            file.force();
        }

        @Override
        public long size() throws IOException {
            count();
            return file.size();
        }

        @Override
        public boolean isCurrent() {
            count();
            return file.isCurrent();
        }

        @Override
        public void close() throws IOException {
            file.close();
            count();
        }
    }
}

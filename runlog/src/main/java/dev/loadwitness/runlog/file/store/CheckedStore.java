// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.store;

import java.io.Closeable;
import java.io.IOException;
import java.io.InputStream;
import java.io.UncheckedIOException;
import java.nio.ByteBuffer;
import java.util.List;
import java.util.Optional;
import org.jspecify.annotations.Nullable;

/**
 * A store whose every failure is an {@link IOException}. Java's own file functions throw unchecked ones too, for example while
 * a folder of a disk that was pulled is listed, and the thread that writes must outlive them all.
 */
public final class CheckedStore implements LogStore {
    private final LogStore store;

    public CheckedStore(LogStore store) {
        this.store = store;
    }

    private interface Call<T> {
        T run() throws IOException;
    }

    private static <T> T checked(Call<T> call) throws IOException {
        try {
            return call.run();
        } catch (UncheckedIOException e) {
            throw e.getCause();
        } catch (RuntimeException | Error e) {
            throw new IOException(e.toString(), e);
        }
    }

    /** For messages. */
    public static String reason(IOException e) {
        return e.getMessage() == null
                ? e.getClass().getSimpleName()
                : e.getClass().getSimpleName() + " " + e.getMessage();
    }

    /**
     * Closes, come what may.
     *
     * @param file may be null
     */
    public static void closeQuietly(@Nullable Closeable file) {
        try {
            if (file != null) {
                file.close();
            }
        } catch (IOException e) {
            // What counts was forced before; a file that cannot be closed loses nothing.
            return;
        }
    }

    public boolean contains(String name) throws IOException {
        try {
            return list().contains(name);
        } catch (IOException e) {
            throw new IOException("cannot look into the folder of " + describe(name) + ": " + reason(e), e);
        }
    }

    private static void checkedClose(Closeable closeable) throws IOException {
        checked(() -> {
            closeable.close();
            return true;
        });
    }

    @Override
    public LogFile create(String name) throws IOException {
        return checked(() -> new CheckedFile(store.create(name)));
    }

    @Override
    public LogFile append(String name) throws IOException {
        return checked(() -> new CheckedFile(store.append(name)));
    }

    @Override
    public InputStream read(String name) throws IOException {
        return checked(() -> new CheckedInput(store.read(name)));
    }

    @Override
    public void delete(String name) throws IOException {
        checked(() -> {
            store.delete(name);
            return true;
        });
    }

    @Override
    public List<String> list() throws IOException {
        return checked(store::list);
    }

    @Override
    public long usableBytes() throws IOException {
        return checked(store::usableBytes);
    }

    @Override
    public Optional<Closeable> lock(String name) throws IOException {
        return checked(() -> store.lock(name).map(held -> () -> checkedClose(held)));
    }

    @Override
    public String describe(String name) {
        return store.describe(name);
    }

    private record CheckedFile(LogFile file) implements LogFile {
        @Override
        public int write(ByteBuffer bytes) throws IOException {
            return checked(() -> file.write(bytes));
        }

        @Override
        public void force() throws IOException {
            checked(() -> {
                file.force();
                return true;
            });
        }

        @Override
        public long size() throws IOException {
            return checked(file::size);
        }

        @Override
        public boolean isCurrent() {
            try {
                return checked(file::isCurrent);
            } catch (IOException e) {
                return false; // it cannot be reached by its path
            }
        }

        @Override
        public void close() throws IOException {
            checkedClose(file);
        }
    }

    private static final class CheckedInput extends InputStream {
        private final InputStream in;

        CheckedInput(InputStream in) {
            this.in = in;
        }

        @Override
        public int read() throws IOException {
            return checked(in::read);
        }

        @Override
        public int read(byte[] into, int from, int length) throws IOException {
            return checked(() -> in.read(into, from, length));
        }

        @Override
        public long skip(long bytes) throws IOException {
            return checked(() -> in.skip(bytes));
        }

        @Override
        public void close() throws IOException {
            checkedClose(in);
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file;

import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Part;
import dev.loadwitness.runlog.Sample;
import dev.loadwitness.runlog.TornTail;
import java.io.ByteArrayOutputStream;
import java.io.Closeable;
import java.io.EOFException;
import java.io.IOException;
import java.io.InputStream;
import java.nio.ByteBuffer;
import java.nio.file.FileAlreadyExistsException;
import java.security.MessageDigest;
import java.time.Duration;
import java.util.ArrayDeque;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.HexFormat;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.concurrent.locks.Condition;
import java.util.concurrent.locks.ReentrantLock;
import java.util.function.IntFunction;
import java.util.stream.Stream;

/**
 * Appends records to a run log. {@link #append} never waits for the disk: one thread of this writer takes what has
 * gathered, writes it, forces it, and only then acknowledges it.
 *
 * <p>A power cut loses at most what was not acknowledged; {@link #oldestUndurableAge} says how old that is. What was
 * acknowledged is never lost by this class; a disk that lies about its force can still lose it.
 *
 * <p>{@link #append} and the questions may be called from any thread.
 */
public final class RunLogWriter implements AutoCloseable {
    private static final Duration CLOSE_LIMIT = Duration.ofSeconds(10);
    private static final Duration LONGEST_BACK_OFF = Duration.ofSeconds(30);
    private static final int WRITE_FAILURES_BEFORE_NEW_PART = 3;
    private static final long ROOM_FOR_NEW_PART = 1 << 20;
    private static final long KEPT_BYTES = 256 << 10;
    private static final long TAIL_THAT_A_CRASH_CAN_SPOIL = 2L * Format.MAX_BATCH + Format.MAX_LINE;

    /** A record on its way: its bytes without number and chain, which it gets when it is written. */
    @SuppressWarnings("ArrayRecordComponent") // handed over, never compared or changed
    private record Entry(byte[] body, long since, long ticket) {}

    /** Where the current file stood before a batch that is on the disk, and that batch. */
    @SuppressWarnings("ArrayRecordComponent") // never compared or changed
    private record Mark(long n, byte[] chainHex, long bytes, List<Entry> batch) {
        long size() {
            return batch.stream().mapToLong(e -> e.body().length).sum();
        }
    }

    private final LogStore store;
    private final String stem;
    private final String runId;
    private final WriterOptions options;
    private final WriterListener listener;
    private final Chain chain = new Chain();
    private final Thread thread;

    private final ReentrantLock lock = new ReentrantLock();
    private final Condition work = lock.newCondition();
    private final Condition progress = lock.newCondition();

    // Guarded by lock.
    private final ArrayDeque<Entry> queue = new ArrayDeque<>();
    private long queuedBytes;
    private long accepted;
    private long acknowledged;
    private long dropped;
    private Sample firstDropped;
    private Sample lastDropped;
    private final long beganNanos;
    private long acceptedBytes;
    private long oldestFlying = Long.MAX_VALUE;
    private boolean flyingAny;
    private boolean closing;
    private boolean closeSeen;
    private boolean abandoned;
    private boolean ended;
    private Optional<String> defect = Optional.empty();
    private LogPosition position;
    private Optional<String> trouble = Optional.empty();

    // The writing thread's own.
    private Closeable held;
    private LogFile file;
    private int part;
    private long goodN;
    private byte[] goodChain;
    private long goodBytes;
    private int triedPart;
    /** The last of what is on the disk, in case a disk that was pulled turns out to have lost what it had confirmed. */
    private final ArrayDeque<Mark> kept = new ArrayDeque<>();

    private long keptBytes;
    private Optional<LeftBehind> leftBehind = Optional.empty();
    private boolean ballast;
    private long lostSinceNanos;

    private RunLogWriter(LogStore store, String stem, String runId, WriterOptions options, Closeable held) {
        this.store = store;
        this.stem = stem;
        this.runId = runId;
        this.options = options;
        this.listener = new SteadyListener(options.listener());
        this.held = held;
        this.beganNanos = options.nanoTime().getAsLong();
        this.thread = new Thread(this::writeAll, "run log writer");
        this.thread.setDaemon(true);
    }

    /**
     * Begins a log: makes {@code <stem>.jsonl} and returns when the header is on the disk.
     *
     * @throws IOException with a message for people, if there is such a log already or the disk does not take it
     */
    public static RunLogWriter create(LogStore disk, String stem, Header header, WriterOptions options)
            throws IOException {
        LogStore store = new CheckedStore(disk);
        String name = Format.fileName(stem, 1);
        String where = store.describe(name);
        byte[] body = RecordEncoder.body(header);
        if (exists(store, name)) {
            throw new IOException(where + " exists already; logs are never overwritten. Choose another folder");
        }
        Closeable held = lock(store, stem);
        LogFile file = null;
        try {
            file = store.create(name);
            RunLogWriter writer = new RunLogWriter(store, stem, header.runId(), options, held);
            writer.start(file, 1, -1, Chain.start(), 0);
            writer.writeHeader(body, where);
            writer.makeBallast();
            writer.thread.start();
            return writer;
        } catch (IOException | RuntimeException e) {
            closeQuietly(file);
            closeQuietly(held);
            throw e;
        }
    }

    /** Makes the boot record of the segment that follows; the torn tail is filled in by the writer. */
    public interface NextBoot {
        /**
         * Called once, under the lock, when the whole log has been seen and before anything is written.
         *
         * @throws IOException if this log is not to be gone on with: then nothing is written
         */
        Boot boot(int segment) throws IOException;
    }

    /** The same without a look at what is in the log. */
    public static RunLogWriter resume(LogStore store, String stem, IntFunction<Boot> boot, WriterOptions options)
            throws IOException {
        return resume(store, stem, boot::apply, new Nobody(), options);
    }

    /**
     * Goes on with a log that was interrupted: locks it, and appends the boot record of the next segment, which
     * declares what a crash left behind the last whole record. Nothing in the log is changed, and damage that no crash leaves
     * stays in what is read: only records behind spoilt bytes near the end are left behind, see {@link #leftBehind}. On a full
     * disk the reserve that the killed run left gives the room. Returns when the boot record is on the disk.
     *
     * @param seen is shown the log as it is under the lock, before {@code boot} is asked
     * @throws IOException with a message for people, if the log is closed, locked, or no log
     */
    public static RunLogWriter resume(LogStore disk, String stem, NextBoot boot, LogVisitor seen, WriterOptions options)
            throws IOException {
        LogStore store = new CheckedStore(disk);
        String name = Format.fileName(stem, 1);
        String where = store.describe(name);
        if (!exists(store, name)) {
            throw new IOException("there is no " + where + " to resume");
        }
        Closeable held = lock(store, stem);
        LogFile file = null;
        try {
            LogScan scan = new LogScan(store, name, seen);
            ReadSummary read = scan.run();
            if (read.closed()) {
                deleteLock(store, stem);
                throw new IOException(where + " is closed: there is nothing to resume");
            }
            LogScan.State end = scan.end();
            int lastFile = lastPart(store, stem);
            long size = sizeOf(store, Format.fileName(stem, lastFile));
            Optional<LogScan.State> before = scan.endBeforeSpoiltBytes()
                    .filter(state -> state.part() == lastFile && size - state.end() <= TAIL_THAT_A_CRASH_CAN_SPOIL);
            RunLogWriter writer = new RunLogWriter(store, stem, scan.header().runId(), options, held);
            writer.ballast = exists(store, writer.ballastName());
            if (before.isPresent() || end.part() != lastFile) {
                // Whole records lie behind the damage, or the last file has none: only a further part can say so.
                LogScan.State good =
                        before.orElse(new LogScan.State(lastFile, end.n(), end.chain(), 0, true, end.segment()));
                Boot next = boot.boot(good.segment() + 1);
                writer.leftBehind = before.flatMap(state -> scan.firstDamage())
                        .map(damage -> new LeftBehind(damage, end.n() - good.n()));
                writer.start(null, good.part(), good.n(), Chain.bytes(good.chain()), good.end());
                writer.resumeInNewPart(RecordEncoder.body(withTorn(next, Optional.empty())));
            } else {
                Boot next = boot.boot(end.segment() + 1);
                file = store.append(Format.fileName(stem, end.part()));
                Optional<TornTail> torn = torn(store, Format.fileName(stem, end.part()), end.end(), size);
                writer.start(file, end.part(), end.n(), Chain.bytes(end.chain()), size);
                boolean needsFeed = torn.isPresent() || !end.terminated();
                writer.resumeHere(RecordEncoder.body(withTorn(next, torn)), needsFeed);
            }
            writer.makeBallast();
            writer.thread.start();
            return writer;
        } catch (IOException | RuntimeException e) {
            closeQuietly(file);
            closeQuietly(held);
            throw e;
        }
    }

    /**
     * What {@link #resume} left behind.
     *
     * @param damage the spoilt bytes
     * @param records how many whole ones lie behind them, by their numbers
     */
    public record LeftBehind(Damage damage, long records) {}

    /**
     * Records that lie behind spoilt bytes and that no reader takes for part of the log any more, because it goes on in a
     * further file from the last record before those bytes. Whoever resumes says so in the log.
     */
    public Optional<LeftBehind> leftBehind() {
        return leftBehind;
    }

    private static boolean exists(LogStore store, String name) throws IOException {
        try {
            return store.list().contains(name);
        } catch (IOException e) {
            throw new IOException("cannot look into the folder of " + store.describe(name) + ": " + reason(e), e);
        }
    }

    private static Closeable lock(LogStore store, String stem) throws IOException {
        String where = store.describe(lockName(stem));
        Optional<Closeable> held;
        try {
            held = store.lock(lockName(stem));
        } catch (IOException e) {
            throw new IOException(
                    "cannot create " + where + ": " + reason(e) + ". Choose a folder that can be written", e);
        }
        return held.orElseThrow(() ->
                new IOException("another writer holds " + where + ": this log is being written. Stop that one first"));
    }

    /** Of a closed log, which nobody can want to resume any more. */
    private static void deleteLock(LogStore store, String stem) {
        try {
            store.delete(lockName(stem));
        } catch (IOException e) {
            // Left behind: an empty file, which the next one takes away.
            return;
        }
    }

    private static String lockName(String stem) {
        return stem + ".lock";
    }

    private static String reason(IOException e) {
        return e.getMessage() == null
                ? e.getClass().getSimpleName()
                : e.getClass().getSimpleName() + " " + e.getMessage();
    }

    private static int lastPart(LogStore store, String stem) throws IOException {
        List<String> names = store.list();
        int part = 1;
        while (names.contains(Format.fileName(stem, part + 1))) {
            part++;
        }
        return part;
    }

    private static long sizeOf(LogStore store, String name) throws IOException {
        try (LogFile file = store.append(name)) {
            return file.size();
        }
    }

    private static Optional<TornTail> torn(LogStore store, String name, long from, long size) throws IOException {
        if (from >= size) {
            return Optional.empty();
        }
        MessageDigest digest = Chain.sha256();
        try (InputStream in = store.read(name)) {
            in.skipNBytes(from);
            byte[] chunk = new byte[64 << 10];
            long left = size - from;
            while (left > 0) {
                int count = in.read(chunk, 0, (int) Math.min(chunk.length, left));
                if (count < 0) {
                    throw new IOException(store.describe(name) + " became shorter while it was read");
                }
                digest.update(chunk, 0, count);
                left -= count;
            }
        }
        return Optional.of(new TornTail(from, size - from, HexFormat.of().formatHex(digest.digest())));
    }

    private static Boot withTorn(Boot boot, Optional<TornTail> torn) {
        return new Boot(boot.at(), boot.utc(), boot.bootId(), boot.bootTimeSeconds(), boot.utcTrusted(), torn);
    }

    private void start(LogFile file, int part, long goodN, byte[] goodChain, long goodBytes) {
        this.file = file;
        this.part = part;
        this.goodN = goodN;
        this.goodChain = goodChain;
        this.goodBytes = goodBytes;
        this.position = new LogPosition(goodN + 1, Chain.text(goodChain));
    }

    private void writeHeader(byte[] body, String where) throws IOException {
        byte[] chainHex = goodChain.clone();
        byte[] line = RecordEncoder.line(0, body, chain, chainHex);
        writeOrFail(line, where);
        good(0, chainHex, line.length);
        firstIsDurable();
    }

    private void resumeHere(byte[] body, boolean needsFeed) throws IOException {
        byte[] chainHex = goodChain.clone();
        byte[] line = RecordEncoder.line(goodN + 1, body, chain, chainHex);
        byte[] bytes = line;
        if (needsFeed) {
            bytes = new byte[line.length + 1];
            bytes[0] = '\n';
            System.arraycopy(line, 0, bytes, 1, line.length);
        }
        writeOrFail(bytes, store.describe(Format.fileName(stem, part)));
        good(goodN + 1, chainHex, goodBytes + bytes.length);
        firstIsDurable();
    }

    private void resumeInNewPart(byte[] body) throws IOException {
        List<Entry> boot = List.of(new Entry(body, options.nanoTime().getAsLong(), 1));
        try {
            openPart(boot);
        } catch (IOException e) {
            if (!ballast || !releaseBallast()) {
                throw e;
            }
            openPart(boot);
        }
        firstIsDurable();
    }

    private void firstIsDurable() {
        accepted = 1;
        acknowledged = 1;
        position = new LogPosition(goodN + 1, Chain.text(goodChain));
    }

    private void writeOrFail(byte[] bytes, String where) throws IOException {
        ByteBuffer buffer = ByteBuffer.wrap(bytes);
        try {
            try {
                writeAll(buffer);
            } catch (IOException e) {
                // A killed run left its reserve: a disk that filled up meanwhile still takes the record of this start.
                if (!ballast || !releaseBallast()) {
                    throw e;
                }
                writeAll(buffer);
            }
            file.force();
        } catch (IOException e) {
            throw new IOException(
                    "cannot write " + where + ": " + reason(e) + ". Make room or choose another folder", e);
        }
    }

    private void writeAll(ByteBuffer buffer) throws IOException {
        while (buffer.hasRemaining()) {
            if (file.write(buffer) == 0) {
                throw new IOException("no room left");
            }
        }
    }

    /**
     * Hands a record over. Never waits for the disk.
     *
     * @return its ticket, for {@link #awaitDurable}; −1 if it was dropped because the queue to the disk is full, which
     *     befalls samples long before anything else and is announced in the log as soon as there is room
     * @throws IllegalArgumentException if it cannot be written: a header, a part, or texts beyond a line's length
     * @throws IllegalStateException after {@link #close}
     */
    public long append(LogRecord record) {
        if (record instanceof Header || record instanceof Part) {
            throw new IllegalArgumentException("header and part records are the writer's own");
        }
        byte[] body = RecordEncoder.body(record);
        Sample sample = record instanceof Sample s ? s : null;
        lock.lock();
        try {
            if (closing) {
                throw new IllegalStateException("the log is closed");
            }
            long room = options.queueBytes() + (sample == null ? options.reservedBytes() : 0) - queuedBytes;
            if (body.length > room) {
                if (sample != null) {
                    firstDropped = firstDropped == null ? sample : firstDropped;
                    lastDropped = sample;
                }
                dropped++;
                return -1;
            }
            announceDropped(options.queueBytes() + options.reservedBytes());
            closeSeen |= record instanceof Close;
            return enqueue(body);
        } finally {
            lock.unlock();
        }
    }

    private void announceDropped(long most) {
        if (dropped == 0 || lastDropped == null || queuedBytes > most) {
            return;
        }
        Event event = Event.of(
                lastDropped.at(),
                lastDropped.utc(),
                EventKind.SAMPLES_DROPPED,
                Map.of(
                        "count",
                        (double) dropped,
                        "from",
                        firstDropped.at().nanos() / 1e9,
                        "to",
                        lastDropped.at().nanos() / 1e9));
        enqueue(RecordEncoder.body(event));
        dropped = 0;
        firstDropped = null;
        lastDropped = null;
    }

    private long enqueue(byte[] body) {
        accepted++;
        queue.add(new Entry(body, options.nanoTime().getAsLong(), accepted));
        queuedBytes += body.length;
        acceptedBytes += body.length;
        work.signal();
        return accepted;
    }

    /** How many of the records handed over are known to be on the disk; the first is the header or the boot record. */
    public long acknowledged() {
        lock.lock();
        try {
            return acknowledged;
        } finally {
            lock.unlock();
        }
    }

    /** How far the log is known to be on the disk: what the journal remembers. */
    public LogPosition position() {
        lock.lock();
        try {
            return position;
        } finally {
            lock.unlock();
        }
    }

    /** Age of the oldest record handed over and not yet known to be on the disk; zero if there is none. */
    public Duration oldestUndurableAge(long nowNanos) {
        lock.lock();
        try {
            if (flyingAny) {
                return Duration.ofNanos(Math.max(0, nowNanos - oldestFlying));
            }
            Entry oldest = queue.peek();
            return oldest == null ? Duration.ZERO : Duration.ofNanos(Math.max(0, nowNanos - oldest.since()));
        } finally {
            lock.unlock();
        }
    }

    /** Why nothing can be written at the moment; empty while all is well. The writer goes on trying. */
    public Optional<String> trouble() {
        lock.lock();
        try {
            return trouble;
        } finally {
            lock.unlock();
        }
    }

    /**
     * Why nothing will be written any more, whatever the disk does: this writer itself failed, which no trouble with a disk
     * brings about. Empty while it works.
     */
    public Optional<String> defect() {
        lock.lock();
        try {
            return defect;
        } finally {
            lock.unlock();
        }
    }

    /** How much of the memory for records that wait for the disk is taken, 0 to 1. At 1 samples are dropped. */
    public double memoryTaken() {
        lock.lock();
        try {
            return Math.min(1, queuedBytes / (double) options.queueBytes());
        } finally {
            lock.unlock();
        }
    }

    /** How long that memory lasts if records go on coming as they have until now and the disk takes none. */
    public Duration memoryLasts(long nowNanos) {
        lock.lock();
        try {
            double elapsed = Math.max(1, nowNanos - beganNanos);
            double left = Math.max(0, options.queueBytes() - queuedBytes);
            return Duration.ofNanos((long) Math.min(Long.MAX_VALUE / 2.0, left * elapsed / Math.max(1, acceptedBytes)));
        } finally {
            lock.unlock();
        }
    }

    /** Waits until the record of that ticket is on the disk; false if it is not in time. */
    public boolean awaitDurable(long ticket, Duration limit) throws InterruptedException {
        long left = limit.toNanos();
        lock.lock();
        try {
            while (acknowledged < ticket) {
                if (left <= 0 || ended) {
                    return false;
                }
                left = progress.awaitNanos(left);
            }
            return true;
        } finally {
            lock.unlock();
        }
    }

    /** {@link #close(Duration)} with ten seconds. */
    @Override
    public void close() {
        close(CLOSE_LIMIT);
    }

    /**
     * Writes what is left and closes the files. Does not append a close record: that is the run's to say. What is not
     * written in time is given up.
     *
     * @return how many records are not known to be on the disk: 0 if all is well
     */
    public long close(Duration limit) {
        finish(limit);
        lock.lock();
        try {
            abandoned = true;
            work.signalAll();
            return accepted - acknowledged;
        } finally {
            lock.unlock();
        }
    }

    /**
     * Takes no more records, and waits until what is left is written and the files are closed. May be called again to
     * wait longer; only {@link #close} gives up.
     *
     * @return how many records are not known to be on the disk yet: 0 if all is well
     */
    public long finish(Duration limit) {
        lock.lock();
        try {
            if (!closing) {
                announceDropped(Long.MAX_VALUE);
                closing = true;
                work.signalAll();
            }
        } finally {
            lock.unlock();
        }
        try {
            thread.join(Math.max(1, limit.toMillis()));
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
        }
        lock.lock();
        try {
            return accepted - acknowledged;
        } finally {
            lock.unlock();
        }
    }

    // ---- the writing thread ----

    private void writeAll() {
        try {
            List<Entry> batch = takeBatch();
            while (!batch.isEmpty()) {
                if (!makeDurable(batch)) {
                    break;
                }
                batch = takeBatch();
            }
            cleanUp();
        } catch (IOException e) {
            listener.storageLow("cannot remove the reserve or lock of " + stem + ": " + reason(e));
        } catch (RuntimeException | Error e) {
            lock.lock();
            try {
                defect = Optional.of(e.toString());
            } finally {
                lock.unlock();
            }
            throw e; // to be shown with its stack: it is a defect of ours
        } finally {
            closeQuietly(file);
            closeQuietly(held);
            lock.lock();
            try {
                ended = true;
                progress.signalAll();
            } finally {
                lock.unlock();
            }
        }
    }

    /** Leaves the log alone behind, if all of it is on the disk. */
    private void cleanUp() throws IOException {
        boolean complete;
        boolean over;
        lock.lock();
        try {
            complete = accepted == acknowledged;
            over = closeSeen;
        } finally {
            lock.unlock();
        }
        if (!complete || elsewhere().isPresent()) {
            return;
        }
        // Also if it was given up: that may have failed on a disk that was gone at the time.
        store.delete(ballastName());
        if (over) {
            // Only now: a lock file may vanish when nobody can want to resume any more, else two could hold "it".
            store.delete(lockName(stem));
        }
    }

    private static void closeQuietly(Closeable file) {
        try {
            if (file != null) {
                file.close();
            }
        } catch (IOException e) {
            // What counts was forced before; a file that cannot be closed loses nothing.
            return;
        }
    }

    private List<Entry> takeBatch() {
        lock.lock();
        try {
            while (queue.isEmpty() && !closing) {
                work.awaitUninterruptibly();
            }
            List<Entry> batch = new ArrayList<>();
            long bytes = 0;
            while (!queue.isEmpty() && (batch.isEmpty() || bytes + queue.peek().body().length <= Format.MAX_BATCH)) {
                Entry entry = queue.remove();
                bytes += entry.body().length + Chain.SUFFIX_LENGTH;
                queuedBytes -= entry.body().length;
                batch.add(entry);
            }
            flyingAny = !batch.isEmpty();
            oldestFlying = flyingAny ? batch.get(0).since() : Long.MAX_VALUE;
            return batch;
        } finally {
            lock.unlock();
        }
    }

    /** Returns true when the batch is on the disk, false if the owner gave up before. */
    private boolean makeDurable(List<Entry> batch) {
        Lines lines = lines(batch, goodN + 1, goodChain);
        // False once only a further part can help: what the disk holds of this file can no longer be known, or its
        // descriptor is dead.
        boolean here = true;
        boolean forced = false;
        int failures = 0;
        List<Entry> pending = batch;
        Duration wait = options.retry();
        String why = "";
        while (true) {
            boolean begun = false;
            IOException failed;
            // Asked before the attempt: room that comes while it fails is for the next one, in the same file.
            boolean hadRoom = here && failures >= WRITE_FAILURES_BEFORE_NEW_PART && hasRoom();
            if (here && !file.isCurrent()) {
                // Unmounted lazily, the disk still takes what is written, where nobody will find it.
                here = false;
                why = "the path leads to another file than the one that was written, or to none";
                closeQuietly(file);
            }
            try {
                if (here) {
                    writeRest(lines.bytes());
                    forced = true;
                    timedForce(file);
                    keep(new Mark(goodN, goodChain, goodBytes, batch));
                    good(goodN + batch.size(), lines.chainHex(), goodBytes + lines.length());
                } else {
                    takeUpAgain();
                    List<Entry> again = rewind();
                    if (!again.isEmpty()) {
                        why = "the disk had lost the last " + again.size() + " records that it had confirmed; " + why;
                        pending =
                                Stream.concat(again.stream(), pending.stream()).toList();
                    }
                    begun = true;
                    openPart(pending);
                    listener.partBegun(part, why);
                }
                tellBack();
                acknowledge(batch);
                return true;
            } catch (IOException e) {
                failed = e;
                why = reason(e);
            }
            failures++;
            if (here && forced) {
                here = false;
                closeQuietly(file);
                continue;
            }
            // If our log was looked for in vain, room was not what lacked, even if it is back by now.
            Optional<String> elsewhere = failed instanceof Elsewhere ? Optional.of(failed.getMessage()) : elsewhere();
            if (ballast && elsewhere.isEmpty() && releaseBallast()) {
                listener.storageLow(why + "; the reserve of " + options.ballastBytes() + " bytes is given up");
                continue;
            }
            if (here && (!file.isCurrent() || hadRoom)) {
                here = false;
                // An open file would keep a dead disk from being unmounted, and the stick from being mounted again.
                closeQuietly(file);
            }
            tellLost(elsewhere.orElse(why));
            if (!pause(wait)) {
                return false;
            }
            // Looking whether our log is there again costs nothing; parts that fail are made ever more rarely.
            wait = begun ? min(wait.multipliedBy(2), LONGEST_BACK_OFF) : options.retry();
        }
    }

    private static Duration min(Duration a, Duration b) {
        return a.compareTo(b) < 0 ? a : b;
    }

    private boolean hasRoom() {
        try {
            return store.usableBytes() > ROOM_FOR_NEW_PART;
        } catch (IOException e) {
            return false;
        }
    }

    /**
     * Why the path does not lead to this log, as far as it is known to be written; empty if it does. A stick that was
     * pulled leaves an empty folder behind, and another may come in its place: neither may be written to. The chain
     * value at the last good byte is found in no other log. Only reads.
     */
    private Optional<String> elsewhere() {
        String name = Format.fileName(stem, part);
        try {
            List<String> names = store.list();
            if (!names.contains(Format.fileName(stem, 1)) || !names.contains(name)) {
                return Optional.of(store.describe(name) + " is not there any more");
            }
            Mark oldest = kept.peekFirst();
            if (holds(goodChain, goodBytes) || (oldest != null && holds(oldest.chainHex(), oldest.bytes()))) {
                return Optional.empty();
            }
            return Optional.of(
                    store.describe(name) + " is not this run's log, or lacks much of what was on the disk already");
        } catch (IOException e) {
            return Optional.of(store.describe(name) + " cannot be reached: " + reason(e));
        }
    }

    /** True if the current file, as the path leads to it now, has that chain value before that byte. */
    private boolean holds(byte[] chainHex, long bytes) throws IOException {
        byte[] expected = new byte[Chain.SUFFIX_LENGTH + 1];
        Chain.putSuffix(chainHex, expected, 0);
        if (bytes < expected.length) {
            return true; // nothing of this file counts yet
        }
        try (InputStream in = store.read(Format.fileName(stem, part))) {
            in.skipNBytes(bytes - expected.length);
            return Arrays.equals(in.readNBytes(expected.length), expected);
        } catch (EOFException e) {
            return false;
        }
    }

    private void keep(Mark mark) {
        kept.add(mark);
        keptBytes += mark.size();
        while (keptBytes > KEPT_BYTES && kept.size() > 1) {
            keptBytes -= kept.remove().size();
        }
    }

    /** Goes back to the last place that the disk still holds; returns what was behind it and must be written again. */
    private List<Entry> rewind() throws IOException {
        List<Entry> again = new ArrayList<>();
        while (!holds(goodChain, goodBytes)) {
            Mark mark = kept.pollLast();
            if (mark == null) {
                throw new IOException(store.describe(Format.fileName(stem, part)) + " changed while it was looked at");
            }
            keptBytes -= mark.size();
            good(mark.n(), mark.chainHex(), mark.bytes());
            again.addAll(0, mark.batch());
        }
        return again;
    }

    /** Finds the place again through its path, and locks it again: after a re-plug the old descriptors are dead. */
    private void takeUpAgain() throws IOException {
        closeQuietly(held);
        held = null;
        Optional<String> elsewhere = elsewhere();
        if (elsewhere.isPresent()) {
            throw new Elsewhere(elsewhere.get());
        }
        held = lock(store, stem);
    }

    /** The path does not lead to this log. */
    private static final class Elsewhere extends IOException {
        private static final long serialVersionUID = 1L;

        Elsewhere(String why) {
            super(why);
        }
    }

    private void tellLost(String detail) {
        boolean first;
        lock.lock();
        try {
            first = trouble.isEmpty();
            trouble = Optional.of(detail);
        } finally {
            lock.unlock();
        }
        if (first) {
            lostSinceNanos = options.nanoTime().getAsLong();
            listener.storageLost(detail);
        }
    }

    private void tellBack() {
        lock.lock();
        try {
            if (trouble.isEmpty()) {
                return;
            }
            trouble = Optional.empty();
        } finally {
            lock.unlock();
        }
        listener.storageBack(Duration.ofNanos(options.nanoTime().getAsLong() - lostSinceNanos));
        if (!ballast && hasRoom()) {
            makeBallast();
        }
    }

    @SuppressWarnings("ArrayRecordComponent") // never compared or changed
    private record Lines(ByteBuffer bytes, int length, byte[] chainHex) {}

    private Lines lines(List<Entry> batch, long firstN, byte[] previousChain) {
        byte[] chainHex = previousChain.clone();
        ByteArrayOutputStream out = new ByteArrayOutputStream();
        long n = firstN;
        for (Entry entry : batch) {
            out.writeBytes(RecordEncoder.line(n, entry.body(), chain, chainHex));
            n++;
        }
        return new Lines(ByteBuffer.wrap(out.toByteArray()), out.size(), chainHex);
    }

    private void good(long n, byte[] chainHex, long bytes) {
        goodN = n;
        goodChain = Arrays.copyOf(chainHex, Chain.HEX_LENGTH);
        goodBytes = bytes;
    }

    private void acknowledge(List<Entry> batch) {
        lock.lock();
        try {
            acknowledged = batch.get(batch.size() - 1).ticket();
            position = new LogPosition(goodN + 1, Chain.text(goodChain));
            flyingAny = false;
            progress.signalAll();
        } finally {
            lock.unlock();
        }
    }

    /**
     * Writes the batch again to a further file. The file before keeps what it holds; only up to {@code goodBytes} does
     * it count.
     */
    private void openPart(List<Entry> batch) throws IOException {
        int number = part + 1;
        long after = goodBytes;
        LogFile next = null;
        while (next == null) {
            try {
                next = store.create(Format.fileName(stem, number));
            } catch (FileAlreadyExistsException e) {
                if (number > triedPart) {
                    throw new IOException(
                            store.describe(Format.fileName(stem, number)) + " is not of this writer: somebody else went"
                                    + " on with this log",
                            e);
                }
                // Left by an attempt of ours that failed, on a disk that was gone when it was to be removed.
                if (discard(number)) {
                    continue;
                }
                number++;
                after = 0;
            }
        }
        triedPart = Math.max(triedPart, number);
        try {
            byte[] chainHex = goodChain.clone();
            Part record = new Part(runId, number, after, Chain.text(goodChain));
            byte[] head = RecordEncoder.line(goodN + 1, RecordEncoder.body(record), chain, chainHex);
            Lines lines = lines(batch, goodN + 2, chainHex);
            ByteBuffer all = ByteBuffer.allocate(head.length + lines.length());
            all.put(head).put(lines.bytes()).flip();
            while (all.hasRemaining()) {
                writeSome(next, all);
            }
            timedForce(next);
            closeQuietly(file);
            file = next;
            part = number;
            kept.clear();
            keptBytes = 0;
            good(goodN + 1 + batch.size(), lines.chainHex(), head.length + (long) lines.length());
        } catch (IOException e) {
            closeQuietly(next);
            discard(number);
            throw e;
        }
    }

    /**
     * Removes a part that an attempt left: nothing in it was ever acknowledged, and the next attempt may take its name.
     * Returns false if it is still there.
     */
    private boolean discard(int number) {
        if (elsewhere().isPresent()) {
            return false;
        }
        try {
            store.delete(Format.fileName(stem, number));
            return true;
        } catch (IOException e) {
            // The next attempt tries again, and takes the next number if that fails too.
            return false;
        }
    }

    private void writeRest(ByteBuffer bytes) throws IOException {
        while (bytes.hasRemaining()) {
            writeSome(file, bytes);
        }
    }

    private void writeSome(LogFile to, ByteBuffer bytes) throws IOException {
        long before = options.nanoTime().getAsLong();
        try {
            if (to.write(bytes) == 0) {
                throw new IOException("no room left");
            }
        } finally {
            tellStall(before);
        }
    }

    private void timedForce(LogFile to) throws IOException {
        long before = options.nanoTime().getAsLong();
        try {
            to.force();
        } finally {
            tellStall(before);
        }
    }

    private void tellStall(long before) {
        Duration took = Duration.ofNanos(options.nanoTime().getAsLong() - before);
        if (took.compareTo(options.stall()) > 0) {
            listener.stalled(took);
        }
    }

    /** Waits before another try; false if the owner gave up. */
    private boolean pause(Duration length) {
        lock.lock();
        try {
            long left = length.toNanos();
            while (!abandoned && left > 0) {
                left = work.awaitNanos(left);
            }
            return !abandoned;
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
            return false;
        } finally {
            lock.unlock();
        }
    }

    private String ballastName() {
        return stem + ".reserve";
    }

    private void makeBallast() {
        if (options.ballastBytes() == 0) {
            return;
        }
        byte[] bytes = Reserve.bytes(runId, options.ballastBytes());
        try {
            // What a killed run left, or one of our own.
            store.delete(ballastName());
            try (LogFile made = store.create(ballastName())) {
                ballast = true;
                ByteBuffer buffer = ByteBuffer.wrap(bytes);
                int count;
                do {
                    count = made.write(buffer);
                } while (count > 0 && buffer.hasRemaining());
                made.force();
                if (buffer.hasRemaining()) {
                    listener.storageLow("no room for a reserve of " + options.ballastBytes() + " bytes");
                }
            }
        } catch (IOException e) {
            listener.storageLow("no room for a reserve of " + options.ballastBytes() + " bytes: " + reason(e));
        }
    }

    /** Returns false if that gave no room. Not to be called before it is sure that the path leads to this log. */
    private boolean releaseBallast() {
        ballast = false;
        try {
            store.delete(ballastName());
            return true;
        } catch (IOException e) {
            // The caller is about to say that nothing can be written; there is no more to say.
            return false;
        }
    }

    private static final class Nobody implements LogVisitor {
        @Override
        public void record(LogRecord record, Place place) {}

        @Override
        public void damage(Damage damage) {}
    }
}

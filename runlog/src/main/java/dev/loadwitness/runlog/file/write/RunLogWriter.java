// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.file.line.Damage;
import dev.loadwitness.runlog.file.line.Format;
import dev.loadwitness.runlog.file.line.LogPosition;
import dev.loadwitness.runlog.file.line.Place;
import dev.loadwitness.runlog.file.line.RecordEncoder;
import dev.loadwitness.runlog.file.read.LogScan;
import dev.loadwitness.runlog.file.read.LogVisitor;
import dev.loadwitness.runlog.file.store.CheckedStore;
import dev.loadwitness.runlog.file.store.LogStore;
import java.io.IOException;
import java.time.Duration;
import java.util.List;
import java.util.Optional;
import java.util.function.IntFunction;

/**
 * Appends records to a run log. {@link #append} never waits for the disk: one thread of this writer takes what has
 * gathered, writes it, forces it, and only then acknowledges it.
 *
 * <p>A power cut loses at most what was not acknowledged; {@link #oldestUndurableAge} says how old that is. What was
 * acknowledged is never lost by this class; a disk that lies about its force can still lose it.
 *
 * <p>{@link #append} and the questions may be called from any thread. Which class does what on which is said at the package.
 */
public final class RunLogWriter implements AutoCloseable {
    private static final Duration CLOSE_LIMIT = Duration.ofSeconds(10);

    private final String stem;
    private final WriterOptions options;
    private final OpenLog log;
    private final RecordQueue queue;
    private final Optional<LeftBehind> leftBehind;
    private final Thread thread = new Thread(this::writeAll, "run log writer");

    /** Set by the writing thread, asked by any. */
    private volatile Optional<String> defect = Optional.empty();

    /** What {@code log} holds is on the disk. */
    private RunLogWriter(
            String stem, WriterOptions options, OpenLog log, RecordQueue queue, Optional<LeftBehind> leftBehind) {
        this.stem = stem;
        this.options = options;
        this.log = log;
        this.queue = queue;
        this.leftBehind = leftBehind;
        queue.acknowledge(1, log.tail().end().position());
        thread.setDaemon(true);
        thread.start();
    }

    /**
     * Begins a log: makes {@code <stem>.jsonl} and returns when the header is on the disk.
     *
     * @throws IOException with a message for people, if there is such a log already or the disk does not take it
     */
    public static RunLogWriter create(LogStore disk, String stem, Header header, WriterOptions given)
            throws IOException {
        CheckedStore store = new CheckedStore(disk);
        WriterOptions options = given.steady();
        String name = Format.fileName(stem, 1);
        byte[] body = RecordEncoder.body(header);
        if (store.contains(name)) {
            throw new IOException(
                    store.describe(name) + " exists already; logs are never overwritten. Choose another folder");
        }
        LogLock lock = LogLock.take(store, stem);
        try {
            RecordQueue queue = new RecordQueue(options);
            OpenLog log = OpenLog.of(store, stem, header.runId(), lock, LogEnd.NONE, options);
            log.begin(store.create(name), Lines.after(LogEnd.NONE, List.of(body)));
            return new RunLogWriter(stem, options, log, queue, Optional.empty());
        } catch (IOException | RuntimeException e) {
            lock.release();
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
    public static RunLogWriter resume(LogStore disk, String stem, NextBoot boot, LogVisitor seen, WriterOptions given)
            throws IOException {
        CheckedStore store = new CheckedStore(disk);
        WriterOptions options = given.steady();
        String name = Format.fileName(stem, 1);
        if (!store.contains(name)) {
            throw new IOException("there is no " + store.describe(name) + " to resume");
        }
        LogLock lock = LogLock.take(store, stem);
        try {
            LogScan scan = new LogScan(store, name, seen);
            if (scan.run().closed()) {
                lock.deleteQuietly();
                throw new IOException(store.describe(name) + " is closed: there is nothing to resume");
            }
            Resumption from = Resumption.after(scan, store, stem);
            RecordQueue queue = new RecordQueue(options);
            OpenLog log = OpenLog.of(store, stem, scan.header().runId(), lock, from.end(), options);
            log.reserve().find();
            from.begin(log, boot.boot(from.segment()));
            return new RunLogWriter(stem, options, log, queue, from.leftBehind());
        } catch (IOException | RuntimeException e) {
            lock.release();
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

    /**
     * Hands a record over. Never waits for the disk.
     *
     * @return its ticket, for {@link #awaitDurable}; −1 if it was dropped because the queue to the disk is full, which
     *     befalls samples long before anything else and is announced in the log as soon as there is room
     * @throws IllegalArgumentException if it cannot be written: a header, a part, or texts beyond a line's length
     * @throws IllegalStateException after {@link #close}
     */
    public long append(LogRecord record) {
        return queue.append(record);
    }

    /** How many of the records handed over are known to be on the disk; the first is the header or the boot record. */
    public long acknowledged() {
        return queue.acknowledged();
    }

    /** How far the log is known to be on the disk: what the journal remembers. */
    public LogPosition position() {
        return queue.position();
    }

    /** Age of the oldest record handed over and not yet known to be on the disk; zero if there is none. */
    public Duration oldestUndurableAge(long nowNanos) {
        return queue.oldestUndurableAge(nowNanos);
    }

    /** Why nothing can be written at the moment; empty while all is well. The writer goes on trying. */
    public Optional<String> trouble() {
        return log.watch().trouble();
    }

    /**
     * Why nothing will be written any more, whatever the disk does: this writer itself failed, which no trouble with a disk
     * brings about. Empty while it works.
     */
    public Optional<String> defect() {
        return defect;
    }

    /** How much of the memory for records that wait for the disk is taken, 0 to 1. At 1 samples are dropped. */
    public double memoryTaken() {
        return queue.memoryTaken();
    }

    /** How long that memory lasts if records go on coming as they have until now and the disk takes none. */
    public Duration memoryLasts(long nowNanos) {
        return queue.memoryLasts(nowNanos);
    }

    /** Waits until the record of that ticket is on the disk; false if it is not in time. */
    public boolean awaitDurable(long ticket, Duration limit) throws InterruptedException {
        return queue.awaitDurable(ticket, limit);
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
        return queue.abandon();
    }

    /**
     * Takes no more records, and waits until what is left is written and the files are closed. May be called again to
     * wait longer; only {@link #close} gives up.
     *
     * @return how many records are not known to be on the disk yet: 0 if all is well
     */
    public long finish(Duration limit) {
        queue.close();
        try {
            thread.join(Math.max(1, limit.toMillis()));
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
        }
        return queue.undurable();
    }

    // ---- the writing thread ----

    private void writeAll() {
        try {
            List<RecordQueue.Entry> batch = queue.take();
            while (!batch.isEmpty() && new Delivery(log, queue, options, batch).run()) {
                batch = queue.take();
            }
            if (queue.undurable() == 0) {
                log.tidy(queue.closeSeen());
            }
        } catch (IOException e) {
            options.listener()
                    .storageLow("cannot remove the reserve or lock of " + stem + ": " + CheckedStore.reason(e));
        } catch (RuntimeException | Error e) {
            defect = Optional.of(e.toString());
            throw e; // to be shown with its stack: it is a defect of ours
        } finally {
            log.close();
            queue.end();
        }
    }

    private static final class Nobody implements LogVisitor {
        @Override
        public void record(LogRecord record, Place place) {}

        @Override
        public void damage(Damage damage) {}
    }
}

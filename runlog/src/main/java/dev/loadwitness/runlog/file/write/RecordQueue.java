// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Part;
import dev.loadwitness.runlog.Sample;
import dev.loadwitness.runlog.file.line.Chain;
import dev.loadwitness.runlog.file.line.Format;
import dev.loadwitness.runlog.file.line.LogPosition;
import dev.loadwitness.runlog.file.line.RecordEncoder;
import java.time.Duration;
import java.util.ArrayDeque;
import java.util.ArrayList;
import java.util.List;
import java.util.OptionalLong;
import java.util.concurrent.locks.Condition;
import java.util.concurrent.locks.ReentrantLock;
import java.util.function.Supplier;

/**
 * Records between those who hand them over and the writing thread, which takes them and says when they are on the disk.
 * Owns the only lock; nothing is done under it that waits for a disk or calls a listener.
 */
final class RecordQueue {
    /** A record on its way: its bytes without number and chain, which it gets when it is written. */
    @SuppressWarnings("ArrayRecordComponent") // handed over, never compared or changed
    record Entry(byte[] body, long since, long ticket) {}

    private final WriterOptions options;
    private final long beganNanos;

    private final ReentrantLock lock = new ReentrantLock();
    private final Condition work = lock.newCondition();
    private final Condition progress = lock.newCondition();

    // Guarded by lock.
    private final ArrayDeque<Entry> queue = new ArrayDeque<>();
    private final DroppedSamples dropped = new DroppedSamples();
    private long queuedBytes;
    private long acceptedBytes;
    /** One from the start: the first record of this writer, which nobody hands over. */
    private long accepted = 1;

    private long acknowledged;
    private LogPosition position = LogEnd.NONE.position();
    /** Since when the oldest record waits that is taken and not acknowledged. */
    private OptionalLong flyingSince = OptionalLong.empty();

    private boolean closing;
    private boolean closeSeen;
    private boolean abandoned;
    private boolean ended;

    RecordQueue(WriterOptions options) {
        this.options = options;
        this.beganNanos = options.nanoTime().getAsLong();
    }

    private <T> T locked(Supplier<T> answer) {
        lock.lock();
        try {
            return answer.get();
        } finally {
            lock.unlock();
        }
    }

    // ---- any thread ----

    /** See {@link RunLogWriter#append}. */
    long append(LogRecord record) {
        if (record instanceof Header || record instanceof Part) {
            throw new IllegalArgumentException("header and part records are the writer's own");
        }
        byte[] body = RecordEncoder.body(record);
        lock.lock();
        try {
            if (closing) {
                throw new IllegalStateException("the log is closed");
            }
            long most = options.queueBytes() + (record instanceof Sample ? 0 : options.reservedBytes());
            if (body.length > most - queuedBytes) {
                dropped.add(record);
                return -1;
            }
            if (queuedBytes <= options.queueBytes() + options.reservedBytes()) {
                announceDropped();
            }
            closeSeen |= record instanceof Close;
            return enqueue(body);
        } finally {
            lock.unlock();
        }
    }

    private void announceDropped() {
        dropped.announce().ifPresent(event -> enqueue(RecordEncoder.body(event)));
    }

    private long enqueue(byte[] body) {
        accepted++;
        queue.add(new Entry(body, options.nanoTime().getAsLong(), accepted));
        queuedBytes += body.length;
        acceptedBytes += body.length;
        work.signal();
        return accepted;
    }

    long acknowledged() {
        return locked(() -> acknowledged);
    }

    /** How many of the records handed over are not known to be on the disk. */
    long undurable() {
        return locked(() -> accepted - acknowledged);
    }

    LogPosition position() {
        return locked(() -> position);
    }

    Duration oldestUndurableAge(long nowNanos) {
        lock.lock();
        try {
            if (flyingSince.isEmpty() && queue.isEmpty()) {
                return Duration.ZERO;
            }
            long since = flyingSince.orElseGet(() -> queue.element().since());
            return Duration.ofNanos(Math.max(0, nowNanos - since));
        } finally {
            lock.unlock();
        }
    }

    double memoryTaken() {
        return locked(() -> Math.min(1, queuedBytes / (double) options.queueBytes()));
    }

    Duration memoryLasts(long nowNanos) {
        lock.lock();
        try {
            double elapsed = Math.max(1, nowNanos - beganNanos);
            double left = Math.max(0, options.queueBytes() - queuedBytes);
            return Duration.ofNanos((long) Math.min(Long.MAX_VALUE / 2.0, left * elapsed / Math.max(1, acceptedBytes)));
        } finally {
            lock.unlock();
        }
    }

    boolean awaitDurable(long ticket, Duration limit) throws InterruptedException {
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

    /** Takes no more records. */
    void close() {
        lock.lock();
        try {
            if (!closing) {
                announceDropped();
                closing = true;
                work.signalAll();
            }
        } finally {
            lock.unlock();
        }
    }

    /** Ends the writing thread's waiting for a disk that does not take what is left; returns {@link #undurable}. */
    long abandon() {
        lock.lock();
        try {
            abandoned = true;
            work.signalAll();
            return accepted - acknowledged;
        } finally {
            lock.unlock();
        }
    }

    // ---- the writing thread; before it starts, whoever begins ----

    /** Waits for records; gives none when the queue is closed and empty. */
    List<Entry> take() {
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
            flyingSince = batch.isEmpty()
                    ? OptionalLong.empty()
                    : OptionalLong.of(batch.get(0).since());
            return batch;
        } finally {
            lock.unlock();
        }
    }

    /** All up to that ticket is on the disk, with which the log ends there. */
    void acknowledge(long ticket, LogPosition there) {
        lock.lock();
        try {
            acknowledged = ticket;
            position = there;
            flyingSince = OptionalLong.empty();
            progress.signalAll();
        } finally {
            lock.unlock();
        }
    }

    /** Waits before another try; false if the owner gave up. */
    boolean pause(Duration length) {
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

    /** Whether a close record was among what was handed over. */
    boolean closeSeen() {
        return locked(() -> closeSeen);
    }

    /** Nothing will be written any more: nobody is to wait for it. */
    void end() {
        lock.lock();
        try {
            ended = true;
            progress.signalAll();
        } finally {
            lock.unlock();
        }
    }
}

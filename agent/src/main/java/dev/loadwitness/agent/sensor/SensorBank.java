// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor;

import dev.loadwitness.runlog.Channel;
import java.io.IOException;
import java.time.Duration;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.HashSet;
import java.util.List;
import java.util.Set;
import java.util.concurrent.TimeUnit;
import java.util.concurrent.locks.Condition;
import java.util.concurrent.locks.Lock;
import java.util.concurrent.locks.ReentrantLock;
import org.jspecify.annotations.Nullable;

/**
 * Asks every source at once, each on a thread of its own, and takes what has come by the deadline. A source that hangs
 * costs only itself: its channels are NaN, a fact says so, and it is not asked again until its late answer has come and
 * been thrown away.
 *
 * <p>{@link #take} is for one thread. {@link #close} may come from any.
 */
public final class SensorBank implements AutoCloseable {
    private static final Duration LONGEST_DEADLINE = Duration.ofMillis(400);

    private final List<Channel> channels;
    private final List<Asker> askers = new ArrayList<>();
    private final Duration deadline;
    private final Lock lock = new ReentrantLock();
    private final Condition allAnswered = lock.newCondition();
    private int outstanding;
    private boolean stopped;

    /**
     * Starts one daemon thread for each source; closes the sources when it is closed.
     *
     * @throws IllegalArgumentException if two channels have the same id
     */
    public SensorBank(List<Source> sources, Duration deadline) {
        if (deadline.isNegative() || deadline.isZero()) {
            throw new IllegalArgumentException("the deadline is " + deadline + "; it must be positive");
        }
        this.deadline = deadline;
        List<Channel> all = new ArrayList<>();
        for (Source source : sources) {
            askers.add(new Asker(source, all.size()));
            all.addAll(source.channels());
        }
        channels = List.copyOf(all);
        Set<String> ids = new HashSet<>();
        for (Channel channel : channels) {
            if (!ids.add(channel.id())) {
                throw new IllegalArgumentException("two channels have the id '" + channel.id() + "'");
            }
        }
        askers.forEach(Asker::start);
    }

    /** How long sources may take when samples are {@code period} apart: 40 % of it, at most 400 ms. */
    public static Duration deadlineFor(Duration period) {
        Duration share = period.multipliedBy(2).dividedBy(5);
        return share.compareTo(LONGEST_DEADLINE) < 0 ? share : LONGEST_DEADLINE;
    }

    /** All channels of all sources, in the order of the values of each {@link Readings}. */
    public List<Channel> channels() {
        return channels;
    }

    /**
     * Asks all sources that are not still busy with an earlier question and returns when all have answered, at the
     * latest after the deadline.
     *
     * @param nowNanos monotonic time, in which the length of a silence is told
     * @throws IllegalStateException if the bank is closed
     */
    public Readings take(long nowNanos) throws InterruptedException {
        double[] values = new double[channels.size()];
        List<SensorFact> facts = List.of();
        lock.lock();
        try {
            if (stopped) {
                throw new IllegalStateException("the sensor bank is closed");
            }
            outstanding = 0;
            for (Asker asker : askers) {
                if (asker.ask()) {
                    outstanding++;
                }
            }
            long left = deadline.toNanos();
            try {
                while (outstanding > 0 && left > 0) {
                    left = allAnswered.awaitNanos(left);
                }
            } catch (InterruptedException e) {
                askers.forEach(Asker::forget);
                throw e;
            }
            for (Asker asker : askers) {
                SensorFact fact = asker.collect(values, nowNanos);
                List<SensorFact> seen = asker.source.takeFacts();
                if (fact != null || !seen.isEmpty()) {
                    if (facts.isEmpty()) {
                        facts = new ArrayList<>();
                    }
                    facts.addAll(seen);
                    if (fact != null) {
                        facts.add(fact);
                    }
                }
            }
        } finally {
            lock.unlock();
        }
        return new Readings(values, facts);
    }

    /**
     * Whether sources may wake a sleeping device by asking it. Without it none does. From the thread of {@link #take}.
     *
     * @param allowed true while a load on the device is due
     */
    public void allowWaking(boolean allowed) {
        askers.forEach(asker -> asker.source.allowWaking(allowed));
    }

    /**
     * Lets every thread close its own source and end. Waits no longer than the deadline: a source that hangs now is
     * closed by its thread if it ever comes back, since closing a file from outside waits for the read inside it.
     */
    @Override
    public void close() {
        lock.lock();
        try {
            if (stopped) {
                return;
            }
            stopped = true;
            askers.forEach(Asker::wake);
        } finally {
            lock.unlock();
        }
        long end = System.nanoTime() + deadline.toNanos();
        for (Asker asker : askers) {
            try {
                asker.join(Math.max(1, TimeUnit.NANOSECONDS.toMillis(end - System.nanoTime())));
            } catch (InterruptedException e) {
                Thread.currentThread().interrupt();
                return;
            }
        }
    }

    private enum State {
        /** Waits to be asked. */
        IDLE,
        /** Has a question that its thread has not taken up yet, as on a machine under full load. */
        ASKED,
        /** Is being read for the present question. */
        READING,
        /** Has an answer, or a failure, to the present question. */
        ANSWERED,
        /** Is still being read for a question that has been given up. */
        GIVEN_UP
    }

    /** One source, its thread, and where it stands. All fields but the buffer are guarded by the bank's lock. */
    private final class Asker {
        private final Source source;
        private final int from;
        private final double[] buffer;
        private final Condition asked = lock.newCondition();
        private final Thread thread;
        private State state = State.IDLE;
        private String failure = "";
        private boolean silent;
        private long silentSinceNanos;

        Asker(Source source, int from) {
            this.source = source;
            this.from = from;
            buffer = new double[source.channels().size()];
            thread = new Thread(this::work, "sensor " + source.name());
            thread.setDaemon(true);
        }

        void start() {
            thread.start();
        }

        void wake() {
            asked.signal();
        }

        void join(long millis) throws InterruptedException {
            thread.join(millis);
        }

        boolean ask() {
            if (state != State.IDLE) {
                return false;
            }
            state = State.ASKED;
            asked.signal();
            return true;
        }

        /** Ends the present question: an answer that comes later must not be taken for one to the next. */
        void forget() {
            if (state == State.READING || state == State.GIVEN_UP) {
                state = State.GIVEN_UP;
            } else {
                state = State.IDLE; // a question that was not taken up is withdrawn
            }
        }

        /** Copies the answer if it came in time; says what changed, or null. */
        @Nullable
        SensorFact collect(double[] values, long nowNanos) {
            if (state == State.ANSWERED && failure.isEmpty()) {
                state = State.IDLE;
                System.arraycopy(buffer, 0, values, from, buffer.length);
                if (!silent) {
                    return null;
                }
                silent = false;
                return new SensorFact.SourceBack(source.name(), Duration.ofNanos(nowNanos - silentSinceNanos));
            }
            String detail = state == State.ANSWERED ? failure : "no answer within " + deadline.toMillis() + " ms";
            forget();
            Arrays.fill(values, from, from + buffer.length, Double.NaN);
            if (silent) {
                return null;
            }
            silent = true;
            silentSinceNanos = nowNanos;
            return new SensorFact.SourceSilent(source.name(), detail);
        }

        private void work() {
            try {
                while (awaitQuestion()) {
                    answer(read());
                }
            } finally {
                source.close();
            }
        }

        private boolean awaitQuestion() {
            lock.lock();
            try {
                while (state != State.ASKED && !stopped) {
                    asked.awaitUninterruptibly();
                }
                state = State.READING;
                return !stopped;
            } finally {
                lock.unlock();
            }
        }

        /** What went wrong, or an empty text. */
        private String read() {
            try {
                source.read(buffer, 0);
                return "";
            } catch (IOException | RuntimeException | LinkageError e) {
                // A driver's fault must cost this source only, whatever shape it takes.
                String message = e.getMessage();
                return message == null || message.isBlank() ? e.getClass().getSimpleName() : message;
            }
        }

        private void answer(String failure) {
            lock.lock();
            try {
                if (state == State.GIVEN_UP) {
                    state = State.IDLE; // too late: the answer belongs to a moment that has been written down
                    return;
                }
                this.failure = failure;
                state = State.ANSWERED;
                outstanding--;
                if (outstanding == 0) {
                    allAnswered.signal();
                }
            } finally {
                lock.unlock();
            }
        }
    }
}

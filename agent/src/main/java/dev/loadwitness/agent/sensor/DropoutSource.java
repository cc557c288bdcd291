// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor;

import dev.loadwitness.runlog.Channel;
import java.io.IOException;
import java.util.List;
import java.util.concurrent.locks.Condition;
import java.util.concurrent.locks.Lock;
import java.util.concurrent.locks.ReentrantLock;

/**
 * A source that can be made to hang, so that a run can prove that it would notice. While the dropout is planted, a read
 * does not return: to the {@link SensorBank} that is a hanging driver like any other, and its ordinary deadline must
 * find it. Any thread may plant and lift; lift before closing the bank, or the source is never closed.
 */
public final class DropoutSource implements Source {
    private final Source source;
    private final Lock lock = new ReentrantLock();
    private final Condition lifted = lock.newCondition();
    private boolean planted;

    public DropoutSource(Source source) {
        this.source = source;
    }

    /** From now on reads hang until {@link #lift()}. */
    public void plant() {
        set(true);
    }

    /** Lets reads go on. The one that hung still comes too late, and the bank throws its answer away. */
    public void lift() {
        set(false);
    }

    private void set(boolean planted) {
        lock.lock();
        try {
            this.planted = planted;
            lifted.signalAll();
        } finally {
            lock.unlock();
        }
    }

    @Override
    public String name() {
        return source.name();
    }

    @Override
    public List<Channel> channels() {
        return source.channels();
    }

    @Override
    public void read(double[] into, int from) throws IOException {
        lock.lock();
        try {
            while (planted) {
                lifted.awaitUninterruptibly();
            }
        } finally {
            lock.unlock();
        }
        source.read(into, from);
    }

    @Override
    public List<SensorFact> takeFacts() {
        return source.takeFacts();
    }

    @Override
    public void allowWaking(boolean allowed) {
        source.allowWaking(allowed);
    }

    @Override
    public void close() {
        source.close();
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import java.util.ArrayList;
import java.util.List;

/** What one throttle channel showed during one stage. */
public final class ThrottleTally {
    /** A bare hardware-slowdown flag this close to the stage's edges can be a change of performance state. */
    static final double EDGE_SECONDS = 5;

    private static final int MOST_SPELLS = 100;

    private final Channel channel;
    private final Cause cause;
    private final boolean flag;
    private double counted;
    private long spellCount;
    private double spellSeconds;
    private final List<Spell> spells = new ArrayList<>();
    private At first;
    private At upSince;
    private boolean answered;

    ThrottleTally(Channel channel) {
        this.channel = channel;
        this.cause = channel.cause().orElse(Cause.HARDWARE_SLOWDOWN);
        this.flag = channel.metric().name().equals(Metric.THROTTLE_ACTIVE.name());
    }

    void add(At at, double value, double increase, double secondsIntoStage) {
        if (Double.isNaN(value)) {
            return;
        }
        answered = true;
        if (flag) {
            flag(at, value != 0, secondsIntoStage);
        } else if (increase > 0) {
            counted += increase;
            first = first == null ? at : first;
        }
    }

    private void flag(At at, boolean up, double secondsIntoStage) {
        boolean atEdge = secondsIntoStage < EDGE_SECONDS && cause == Cause.HARDWARE_SLOWDOWN;
        if (up && upSince == null && !atEdge) {
            upSince = at;
            first = first == null ? at : first;
        } else if (!up && upSince != null) {
            close(at);
        }
    }

    private void close(At at) {
        double seconds = at.seconds() - upSince.seconds();
        spellCount++;
        spellSeconds += seconds;
        if (spells.size() < MOST_SPELLS) {
            spells.add(new Spell(upSince, seconds));
        }
        upSince = null;
    }

    void finish(At end) {
        if (upSince != null) {
            close(end);
        }
    }

    public Channel channel() {
        return channel;
    }

    public Cause cause() {
        return cause;
    }

    /** True if the channel gave at least one value during the stage. */
    public boolean answered() {
        return answered;
    }

    /** Times it began: counted by the device, or seen in samples; 0 for a channel that only counts time. */
    public long episodes() {
        if (channel.metric().name().equals(Metric.THROTTLE_COUNT.name())) {
            return Math.round(counted);
        }
        return flag ? spellCount : 0;
    }

    /** Time it lasted: counted by the device, or seen in samples; 0 for a channel that only counts times. */
    public double seconds() {
        if (channel.metric().name().equals(Metric.THROTTLE_TIME.name())) {
            return counted;
        }
        return flag ? spellSeconds : 0;
    }

    /** When it was first seen; null if never. */
    public At first() {
        return first;
    }

    /** The first hundred spells of a flag. */
    public List<Spell> spells() {
        return List.copyOf(spells);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.stage;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.Spell;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import java.util.ArrayDeque;
import java.util.ArrayList;
import java.util.Deque;
import java.util.List;
import org.jspecify.annotations.Nullable;

/**
 * What one throttle channel showed during one stage.
 *
 * <p>What it shows between two samples is a piece: a flag that was up at the first of them, or the growth of a counter.
 * Pieces with less than {@link #MERGE_SECONDS} between them are one episode; its time is that of its pieces. Pieces of a
 * bare hardware slowdown within {@link #EDGE_SECONDS} of an edge (of the stage, of a commanded level, anywhere among load
 * steps) can be a change of performance state: they are kept apart.
 */
public final class ThrottleTally {
    /** A bare hardware slowdown this close to an edge can be a change of performance state (common practice). */
    static final double EDGE_SECONDS = 5;

    /** A shorter pause does not end an episode (common practice): a limit that is held makes flags flicker. */
    static final double MERGE_SECONDS = 2;

    private static final int MOST_SPELLS = 100;

    /** More pieces cannot wait for an edge: two thousand samples a second, which no agent takes. */
    static final int MOST_PENDING = 10_000;

    private enum Kind {
        FLAG,
        TIMES,
        SECONDS
    }

    private record Piece(At from, double seconds, double amount) {
        double endSeconds() {
            return from.seconds() + seconds;
        }
    }

    private final Channel channel;
    private final Cause cause;
    private final Kind kind;
    private final boolean apartAtEdges;
    private final boolean allEdge;
    private final Deque<Piece> pending = new ArrayDeque<>();
    private double edgeUntil;

    private double steady;
    private double atEdges;
    private long episodes;
    private double endSeconds = Double.NEGATIVE_INFINITY;
    private final List<Spell> spells = new ArrayList<>();
    private @Nullable At first;
    private At lastAnswer;
    private boolean up;
    private long asked;
    private long answered;
    private int restarts;
    private @Nullable At restartedAt;

    /** @param steps whether the stage's load goes on and off all the time */
    ThrottleTally(Channel channel, At begin, boolean steps) {
        this.channel = channel;
        this.cause = channel.cause().orElse(Cause.HARDWARE_SLOWDOWN);
        String metric = channel.metric().name();
        this.kind = metric.equals(Metric.THROTTLE_ACTIVE.name())
                ? Kind.FLAG
                : metric.equals(Metric.THROTTLE_TIME.name()) ? Kind.SECONDS : Kind.TIMES;
        this.apartAtEdges = cause == Cause.HARDWARE_SLOWDOWN;
        this.allEdge = apartAtEdges && steps;
        this.lastAnswer = begin;
        this.edgeUntil = begin.seconds() + EDGE_SECONDS;
    }

    /**
     * One sample.
     *
     * @param increase growth of a counter since it last answered
     * @param restarted whether the counter reads less than before
     * @return whether it tells of the device holding back since its last answer
     */
    boolean add(At at, double value, double increase, boolean restarted) {
        asked++;
        if (Double.isNaN(value)) {
            return false;
        }
        answered++;
        if (restarted) {
            restarts++;
            restartedAt = restartedAt == null ? at : restartedAt;
        }
        double seconds = at.seconds() - lastAnswer.seconds();
        boolean held = kind == Kind.FLAG ? up : increase > 0;
        if (held) {
            take(new Piece(lastAnswer, seconds, kind == Kind.FLAG ? seconds : increase));
        }
        up = value != 0;
        lastAnswer = at;
        settle(at.seconds() - EDGE_SECONDS);
        return held || (kind == Kind.FLAG && up);
    }

    private void take(Piece piece) {
        if (!apartAtEdges) {
            count(piece);
        } else if (allEdge || piece.from.seconds() < edgeUntil) {
            atEdges += piece.amount;
        } else {
            pending.add(piece);
            if (pending.size() > MOST_PENDING) {
                count(pending.removeFirst());
            }
        }
    }

    /** Something was switched at this moment. */
    void edge(double atSeconds) {
        settle(atSeconds - EDGE_SECONDS);
        pending.forEach(piece -> atEdges += piece.amount);
        pending.clear();
        edgeUntil = Math.max(edgeUntil, atSeconds + EDGE_SECONDS);
    }

    private void settle(double untilSeconds) {
        while (!pending.isEmpty() && pending.peekFirst().endSeconds() <= untilSeconds) {
            count(pending.removeFirst());
        }
    }

    private void count(Piece piece) {
        steady += piece.amount;
        first = first == null ? piece.from : first;
        if (piece.from.seconds() - endSeconds >= MERGE_SECONDS) {
            episodes++;
            if (spells.size() < MOST_SPELLS) {
                spells.add(new Spell(piece.from, piece.seconds));
            }
        } else if (episodes <= MOST_SPELLS) {
            Spell open = spells.remove(spells.size() - 1);
            spells.add(new Spell(open.from(), piece.endSeconds() - open.from().seconds()));
        }
        endSeconds = piece.endSeconds();
    }

    void finish(At end) {
        double seconds = end.seconds() - lastAnswer.seconds();
        if (kind == Kind.FLAG && up && seconds > 0) {
            take(new Piece(lastAnswer, seconds, seconds));
        }
        edge(end.seconds());
    }

    public Channel channel() {
        return channel;
    }

    public Cause cause() {
        return cause;
    }

    /** True for a flag, which shows nothing of what happens between two samples. */
    public boolean isFlag() {
        return kind == Kind.FLAG;
    }

    /** Share of the stage's samples in which it answered. */
    public double answeredShare() {
        return asked == 0 ? 0 : (double) answered / asked;
    }

    /** Episodes in steady load: as the device counted them, else as they stand apart in time. */
    public long episodes() {
        return kind == Kind.TIMES ? Math.round(steady) : episodes;
    }

    /** Time in steady load: counted by the device, or seen in samples; 0 for a channel that only counts times. */
    public double seconds() {
        return kind == Kind.TIMES ? 0 : steady;
    }

    /** Time close to an edge; only of a bare hardware slowdown, and 0 for a channel that only counts times. */
    public double edgeSeconds() {
        return kind == Kind.TIMES ? 0 : atEdges;
    }

    /** When it began, in steady load; null if never. */
    public @Nullable At first() {
        return first;
    }

    /** The first hundred stretches of steady load in which it told of holding back. */
    public List<Spell> spells() {
        return List.copyOf(spells);
    }

    /** How often a counter began anew, as after a restart of the driver, or at its highest value. */
    public int restarts() {
        return restarts;
    }

    /** Null if it never did. */
    public @Nullable At restartedAt() {
        return restartedAt;
    }
}

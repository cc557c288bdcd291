// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.rule;

import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.reporter.scan.stage.ThrottleTally;
import dev.loadwitness.runlog.Cause;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.stream.Stream;
import org.jspecify.annotations.Nullable;

/**
 * What a part told over some stages about holding itself back for one cause. Counter and flag of one cause tell of the
 * same episodes: the larger figure missed less, and where a flag shows more than the counter that should have missed
 * nothing, the two are said to disagree.
 */
public record Held(Cause cause, List<Channel> channels) {
    public static final List<Cause> DEFECTS = List.of(Cause.HEAT, Cause.POWER_BRAKE, Cause.HARDWARE_SLOWDOWN);

    /** A channel that was silent for more than the rest has not watched the stage (ours). */
    private static final double LEAST_ANSWERED = 0.9;

    private static final int MOST_EVIDENCE = 5;

    public static Held of(Cause cause, List<StageTally> stages) {
        Map<String, Channel> byId = new LinkedHashMap<>();
        for (StageTally stage : stages) {
            for (ThrottleTally t : stage.throttles()) {
                if (t.cause() == cause) {
                    byId.merge(t.channel().id(), Channel.of(t), Channel::plus);
                }
            }
        }
        return new Held(cause, List.copyOf(byId.values()));
    }

    /** One channel over all of the stages. */
    private record Channel(
            String id,
            boolean flag,
            double answeredShare,
            long episodes,
            double seconds,
            double edgeSeconds,
            @Nullable At first,
            int restarts,
            @Nullable At restartedAt) {
        static Channel of(ThrottleTally t) {
            return new Channel(
                    t.channel().id(),
                    t.isFlag(),
                    t.answeredShare(),
                    t.episodes(),
                    t.seconds(),
                    t.edgeSeconds(),
                    t.first(),
                    t.restarts(),
                    t.restartedAt());
        }

        Channel plus(Channel later) {
            return new Channel(
                    id,
                    flag,
                    Math.min(answeredShare, later.answeredShare),
                    episodes + later.episodes,
                    seconds + later.seconds,
                    edgeSeconds + later.edgeSeconds,
                    first == null ? later.first : first,
                    restarts + later.restarts,
                    restartedAt == null ? later.restartedAt : restartedAt);
        }

        boolean measured() {
            return answeredShare >= LEAST_ANSWERED;
        }
    }

    public String name() {
        return cause.word().replace('-', ' ');
    }

    public boolean measured() {
        return channels.stream().anyMatch(Channel::measured);
    }

    /** Whether a counter watched, which misses nothing between two samples. */
    public boolean counted() {
        return channels.stream().anyMatch(c -> c.measured() && !c.flag);
    }

    public String by() {
        boolean sampled = channels.stream().anyMatch(c -> c.measured() && c.flag);
        return counted() ? (sampled ? " (counter and flag)" : " (counter)") : " (flag)";
    }

    public long episodes() {
        long most = channels.stream().mapToLong(Channel::episodes).max().orElse(0);
        return most == 0 && seconds() > 0 ? 1 : most;
    }

    public double seconds() {
        return channels.stream().mapToDouble(Channel::seconds).max().orElse(0);
    }

    /** Null if it never did. */
    public @Nullable At first() {
        return channels.stream()
                .map(Channel::first)
                .filter(a -> a != null)
                .findFirst()
                .orElse(null);
    }

    public void where(List<Evidence> evidence) {
        channels.stream()
                .flatMap(c -> Stream.ofNullable(c.first)
                        .map(at -> Evidence.of(at, c.id + " (" + cause.word() + ") first seen")))
                .limit(MOST_EVIDENCE)
                .forEach(evidence::add);
    }

    public void doubts(List<Evidence> evidence, double period) {
        double atEdges =
                channels.stream().mapToDouble(Channel::edgeSeconds).max().orElse(0);
        if (atEdges > 0) {
            evidence.add(Evidence.named(
                    "at edges",
                    name() + " for " + Texts.duration(atEdges)
                            + " close to a stage's or a load's edge: can be a change of performance state, not"
                            + " counted"));
        }
        for (Channel c : channels) {
            if (c.restartedAt != null) {
                evidence.add(Evidence.of(
                        c.restartedAt,
                        c.id + " began anew (" + c.restarts
                                + (c.restarts == 1 ? " time" : " times")
                                + "): a restart of the driver, or the counter's end; counted from zero"));
            }
        }
        disagreement(evidence, period);
    }

    private void disagreement(List<Evidence> evidence, double period) {
        double counter = channels.stream()
                .filter(c -> !c.flag && c.measured())
                .mapToDouble(c -> Math.max(c.seconds, 0))
                .max()
                .orElse(Double.NaN);
        boolean timed = channels.stream().anyMatch(c -> !c.flag && c.measured() && (c.seconds > 0 || c.episodes == 0));
        for (Channel c : channels) {
            // A sampled flag is up to one period too long at either end of each episode.
            if (c.flag && timed && c.seconds > counter + 2 * period * Math.max(1, c.episodes)) {
                evidence.add(Evidence.named(
                        "disagreement",
                        name() + ": the flag was up for " + Texts.duration(c.seconds) + ", the counter tells of "
                                + Texts.duration(counter) + "; the larger figure counts"));
            }
        }
    }
}

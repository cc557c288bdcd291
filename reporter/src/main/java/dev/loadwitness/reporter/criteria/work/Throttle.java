// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.work;

import static dev.loadwitness.runlog.procedure.Parameters.Throttle.AT_MOST;
import static dev.loadwitness.runlog.procedure.Parameters.Throttle.AT_MOST_TIME;
import static dev.loadwitness.runlog.procedure.Parameters.Throttle.CLOCK_LOSS;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Held;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.finding.Value;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.stage.ClockTally;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.List;
import java.util.Optional;
import java.util.stream.Collectors;
import org.jspecify.annotations.Nullable;

/**
 * Number and time of episodes in which the device held itself back for heat, power brake, or a hardware reason that it
 * does not name, and time in which its clock fell while nothing says why. The ordinary power cap is reported and never
 * counts. What the device does not tell is listed as not measured, and is never a zero.
 */
public final class Throttle implements Rule {
    /** A clock that is low in fewer samples, or for less time, may have been read in the middle of a change (ours). */
    private static final double LEAST_LOSS_SECONDS = 2;

    private static final double LEAST_LOSS_SAMPLES = 2;

    @Override
    public Criterion criterion() {
        return Criterion.THROTTLE;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        return Rule.ofEach(
                run.chips(),
                setting,
                "No stage loaded a part that can hold itself back.",
                part -> judge(setting, run, part));
    }

    private static Finding judge(CriterionSetting setting, Case run, Role part) {
        double mostEpisodes = setting.count(AT_MOST);
        double mostSeconds = setting.seconds(AT_MOST_TIME);
        Limit limit =
                Limit.said("at most " + Texts.number(mostEpisodes, 0) + " episodes and " + Texts.duration(mostSeconds));
        String origin = setting.origin(AT_MOST);
        double period = run.scan().procedure().samplingPeriod().toNanos() / 1e9;
        List<StageTally> stages = run.scan().stagesThatProve(part).toList();
        List<Held> told =
                Held.DEFECTS.stream().map(cause -> Held.of(cause, stages)).toList();
        Held capped = Held.of(Cause.POWER_CAP, stages);
        boolean measured = told.stream().anyMatch(h -> h.measured() || h.episodes() > 0);
        if (!measured) {
            return Finding.of(
                            setting,
                            part.word(),
                            Outcome.NOT_MEASURED,
                            "Nothing on this machine says whether " + Texts.part(part)
                                    + " held itself back for heat, power brake or a hardware reason.")
                    .against(limit, origin);
        }
        Clock clock = Clock.of(setting.share(CLOCK_LOSS), run, part, stages, told, capped, period);
        long episodes = told.stream().mapToLong(Held::episodes).sum() + (clock.lost() ? 1 : 0);
        double seconds = told.stream().mapToDouble(Held::seconds).sum() + (clock.lost() ? clock.seconds : 0);
        Beside beside = Beside.of(run.scan().stagesThatOnlyLoad(part).toList());
        List<Evidence> evidence = evidence(told, capped, clock, period);
        evidence.addAll(beside.evidence());
        powerCap(capped).ifPresent(evidence::add);
        boolean pass = episodes <= mostEpisodes && seconds <= mostSeconds;
        return Finding.of(
                        setting,
                        part.word(),
                        pass ? Outcome.PASS : Outcome.FAIL,
                        because(part, told, clock, episodes, seconds) + beside.said())
                .against(limit, origin)
                .measured(
                        Value.said(episodes + (episodes == 1 ? " episode, " : " episodes, ") + Texts.duration(seconds)))
                .seen(evidence);
    }

    private static List<Evidence> evidence(List<Held> told, Held capped, Clock clock, double period) {
        List<Evidence> evidence = new ArrayList<>();
        told.forEach(h -> h.where(evidence));
        if (clock.lost() && clock.first != null) {
            evidence.add(Evidence.of(clock.first, "clock lost, nothing explains it"));
        }
        List<String> measured = new ArrayList<>();
        List<String> unmeasured = new ArrayList<>();
        told.forEach(h -> (h.measured() ? measured : unmeasured).add(h.name() + (h.measured() ? h.by() : "")));
        (clock.measured ? measured : unmeasured).add("unexplained clock loss");
        evidence.add(Evidence.named("measured", String.join(", ", measured)));
        if (!unmeasured.isEmpty()) {
            evidence.add(Evidence.named("not measured", String.join(", ", unmeasured)));
        }
        List<String> sampled = told.stream()
                .filter(h -> h.measured() && !h.counted())
                .map(Held::name)
                .toList();
        if (!sampled.isEmpty()) {
            evidence.add(Evidence.named("sampling", String.join(", ", sampled) + ": " + Sampling.ofFlags(period)));
        }
        told.forEach(h -> h.doubts(evidence, period));
        capped.doubts(evidence, period);
        return evidence;
    }

    private static String because(Role part, List<Held> told, Clock clock, long episodes, double seconds) {
        String name = Texts.sentenceCase(Texts.part(part));
        if (episodes == 0) {
            String named = told.stream()
                    .filter(Held::measured)
                    .map(Held::name)
                    .reduce((a, b) -> a + ", " + b)
                    .orElse("any reason");
            return name + " never held itself back, as far as it tells. It tells of: " + named + ".";
        }
        Held worst = told.stream()
                .filter(h -> h.episodes() > 0)
                .max(Comparator.comparingDouble(Held::seconds))
                .orElse(null);
        Held mostly = worst == null || (clock.lost() && clock.seconds > worst.seconds()) ? null : worst;
        At first = mostly == null ? clock.first : mostly.first();
        for (Held h : told) {
            first = h.first() != null && (first == null || earlier(h.first(), first)) ? h.first() : first;
        }
        String pointer =
                switch (mostly == null ? Cause.POWER_CAP : mostly.cause()) {
                    case HEAT -> "heat: look at heatsink contact, pads, paste, fans and vents";
                    case POWER_BRAKE ->
                        "the power brake: look at the power stage, its current sense, adapter and" + " battery";
                    case HARDWARE_SLOWDOWN -> "a hardware reason that it does not name";
                    case POWER_CAP ->
                        "no reason that it tells: its clock fell by more than " + Texts.percent(clock.share)
                                + " in full use; look at the power stage and its signals to the chip";
                };
        return name + " held itself back " + episodes + (episodes == 1 ? " time, " : " times, ")
                + Texts.duration(seconds) + " in all" + (first == null ? "" : ", first at " + first.clock())
                + ", mostly for " + pointer + ".";
    }

    private static boolean earlier(At a, At b) {
        return a.segment() != b.segment() ? a.segment() < b.segment() : a.seconds() < b.seconds();
    }

    /**
     * What happened in stages that load the part and prove nothing: said, and counted nowhere here. Where the processor
     * heats the same heatsink and draws from the same adapter, holding back is how a sound laptop is built; ramp and load
     * steps have criteria of their own.
     */
    private record Beside(String said, List<Evidence> evidence) {
        static Beside of(List<StageTally> stages) {
            StringBuilder said = new StringBuilder();
            List<Evidence> evidence = new ArrayList<>();
            for (StageTally stage : stages) {
                List<Held> held = Held.DEFECTS.stream()
                        .map(cause -> Held.of(cause, List.of(stage)))
                        .filter(h -> h.episodes() > 0)
                        .toList();
                if (!held.isEmpty()) {
                    said.append(" In stage ")
                            .append(stage.stage().id())
                            .append(", which loads it and proves nothing, it held itself back: ")
                            .append(held.stream()
                                    .map(h -> h.name() + " " + Texts.duration(h.seconds()))
                                    .collect(Collectors.joining(", ")))
                            .append("; that is not counted here.");
                    held.forEach(h -> h.where(evidence));
                }
            }
            return new Beside(said.toString(), evidence);
        }
    }

    private static Optional<Evidence> powerCap(Held capped) {
        return capped.seconds() > 0
                ? Optional.of(Evidence.named(
                        "not counted",
                        "it ran at its ordinary power limit for " + Texts.duration(capped.seconds())
                                + ", which is expected"))
                : Optional.empty();
    }

    /**
     * Time at a clock far below the one held, in full use, with nothing that explains it. Asked only where heat and the
     * ordinary power limit would have shown themselves.
     */
    private record Clock(
            boolean measured, double seconds, @Nullable At first, double share, double least) {
        static Clock of(
                double share,
                Case run,
                Role part,
                List<StageTally> stages,
                List<Held> told,
                Held capped,
                double period) {
            boolean limitTold = capped.measured()
                    || (run.scan().powerLimit(part).isPresent() && run.scan().has(part, Metric.POWER));
            boolean heatTold = told.stream().anyMatch(h -> h.cause() == Cause.HEAT && h.measured());
            List<ClockTally> clocks =
                    stages.stream().flatMap(s -> s.clock().stream()).toList();
            boolean known = limitTold
                    && heatTold
                    && !clocks.isEmpty()
                    && clocks.stream().allMatch(c -> c.steadySeconds() > 0);
            double seconds = 0;
            At first = null;
            for (ClockTally clock : known ? clocks : List.<ClockTally>of()) {
                ClockTally.Loss loss = clock.lostBelow(share);
                seconds += loss.seconds();
                first = first == null ? loss.first() : first;
            }
            return new Clock(
                    known, seconds, first, share, Math.max(LEAST_LOSS_SECONDS, (LEAST_LOSS_SAMPLES - 0.5) * period));
        }

        boolean lost() {
            return seconds >= least;
        }
    }

    /** How likely a flag that is only sampled hides a short episode. */
    static final class Sampling {
        private static final double QUICK_SECONDS = 0.2;

        /** How short an episode is asked about (ours): one that a person at the machine would not notice. */
        private static final double SHORT_SECONDS = 0.1;

        private Sampling() {}

        /** Probability 1 − d/p of missing one episode of length d at period p; elementary. */
        static double missed(double episodeSeconds, double periodSeconds) {
            return Math.max(0, 1 - episodeSeconds / periodSeconds);
        }

        static String ofFlags(double period) {
            return "flags read every " + Texts.duration(period)
                    + (period > QUICK_SECONDS ? ", which is slower than 5 Hz" : "") + "; one episode of "
                    + Texts.duration(SHORT_SECONDS) + " is missed with a probability of "
                    + Texts.percent(missed(SHORT_SECONDS, period)) + ", one of " + Texts.duration(period)
                    + " or longer never";
        }
    }
}

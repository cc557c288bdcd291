// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria;

import dev.loadwitness.reporter.scan.At;
import dev.loadwitness.reporter.scan.ThrottleTally;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;

/**
 * Number and time of episodes in which the device held itself back for heat, power brake, or a hardware reason that it
 * does not name. The ordinary power cap is reported and never counts.
 */
final class Throttle implements Rule {
    private static final int MOST_EVIDENCE = 5;

    @Override
    public Criterion criterion() {
        return Criterion.THROTTLE;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        if (run.parts().stream().allMatch(Role.MEMORY::equals)) {
            return List.of(
                    Finding.of(setting, "", Outcome.NOT_MEASURED, "No stage loaded a part that can hold itself back."));
        }
        return run.parts().stream()
                .filter(p -> p != Role.MEMORY)
                .map(part -> judge(setting, run, part))
                .toList();
    }

    private static Finding judge(CriterionSetting setting, Case run, Role part) {
        double mostEpisodes = setting.value("at-most");
        double mostSeconds = setting.value("at-most-time");
        String limit = "at most " + Texts.number(mostEpisodes, 0) + " episodes and " + Texts.duration(mostSeconds);
        String origin = setting.origin("at-most");
        List<ThrottleTally> tallies = run.scan()
                .stagesThatProve(part)
                .flatMap(s -> s.throttles().stream())
                .filter(ThrottleTally::answered)
                .toList();
        List<ThrottleTally> defects =
                tallies.stream().filter(t -> t.cause() != Cause.POWER_CAP).toList();
        if (defects.isEmpty()) {
            return Finding.of(
                            setting,
                            part.word(),
                            Outcome.NOT_MEASURED,
                            "Nothing on this machine says whether " + Texts.part(part) + " held itself back.")
                    .against(limit, origin);
        }
        long episodes = 0;
        double seconds = 0;
        Cause worst = null;
        double worstSeconds = -1;
        List<Evidence> evidence = new ArrayList<>();
        for (Cause cause : Cause.values()) {
            if (cause == Cause.POWER_CAP) {
                continue;
            }
            List<ThrottleTally> of =
                    defects.stream().filter(t -> t.cause() == cause).toList();
            // Counter and flag of one cause tell of the same episodes: the larger figure missed less.
            long n = of.stream().mapToLong(ThrottleTally::episodes).max().orElse(0);
            double s = of.stream().mapToDouble(ThrottleTally::seconds).max().orElse(0);
            n = n == 0 && s > 0 ? 1 : n;
            episodes += n;
            seconds += s;
            if (n > 0 && s > worstSeconds) {
                worst = cause;
                worstSeconds = s;
            }
            of.stream()
                    .filter(t -> t.first() != null)
                    .limit(MOST_EVIDENCE)
                    .forEach(t -> evidence.add(Evidence.of(
                            t.first(), t.channel().id() + " (" + t.cause().word() + ") first seen")));
        }
        boolean pass = episodes <= mostEpisodes && seconds <= mostSeconds;
        return Finding.of(
                        setting,
                        part.word(),
                        pass ? Outcome.PASS : Outcome.FAIL,
                        because(part, episodes, seconds, worst, firstOf(defects)) + powerCap(tallies))
                .against(limit, origin)
                .measured(episodes + " episodes, " + Texts.duration(seconds), "")
                .seen(evidence);
    }

    private static Optional<At> firstOf(List<ThrottleTally> tallies) {
        return tallies.stream().map(ThrottleTally::first).filter(a -> a != null).findFirst();
    }

    private static String because(Role part, long episodes, double seconds, Cause worst, Optional<At> first) {
        String name = Texts.part(part);
        if (worst == null) {
            return sentenceCase(name) + " never held itself back for heat, power brake or a hardware reason.";
        }
        String pointer =
                switch (worst) {
                    case HEAT -> "heat: look at heatsink contact, pads, paste, fans and vents";
                    case POWER_BRAKE ->
                        "the power brake: look at the power stage, its current sense, adapter and" + " battery";
                    case HARDWARE_SLOWDOWN -> "a hardware reason that it does not name";
                    case POWER_CAP -> throw new IllegalStateException("the power cap is no defect");
                };
        return sentenceCase(name) + " held itself back " + episodes + (episodes == 1 ? " time, " : " times, ")
                + Texts.duration(seconds) + " in all"
                + first.map(a -> ", first at " + a.clock()).orElse("") + ", mostly for " + pointer + ".";
    }

    private static String powerCap(List<ThrottleTally> tallies) {
        double seconds = tallies.stream()
                .filter(t -> t.cause() == Cause.POWER_CAP)
                .mapToDouble(ThrottleTally::seconds)
                .max()
                .orElse(0);
        return seconds > 0
                ? " It ran at its ordinary power limit for " + Texts.duration(seconds) + ", which is expected."
                : "";
    }

    private static String sentenceCase(String text) {
        return Character.toUpperCase(text.charAt(0)) + text.substring(1);
    }
}

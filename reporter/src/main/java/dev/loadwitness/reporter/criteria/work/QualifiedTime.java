// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.work;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Reference;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.reporter.scan.stage.WindowTrack.Window;
import dev.loadwitness.runlog.Role;
import java.util.List;
import java.util.Optional;
import org.jspecify.annotations.Nullable;

/**
 * Time in which the demanded load of one part was really there, in windows of ten seconds: all work verified, none
 * wrong, and either power at the share of a fixed reference, or, where no power is readable or no reference known, work
 * rate at that share of the stage's own best minute.
 *
 * <p>A load of one rail alone (core or memory) draws less by its nature. Its time counts where it reaches the same watts,
 * which are never lowered for it; where it does not, it counts for nothing, and breaks nothing that was promised.
 *
 * <p>Stages that follow each other within a minute and prove the same part make one stretch; any other stage between
 * them ends it, and so does whatever a stage asks of a person. The time between them, and the windows at their edges while the load comes up, break nothing and count for nothing.
 *
 * @param longestSeconds longest unbroken stretch
 * @param totalSeconds all qualified time
 * @param from start of the longest stretch; null if there is none
 * @param brokenAt first window that broke a stretch inside a stage; null if none did
 * @param brokenWhy what was wrong with that window; empty if none did
 * @param meanWatts mean power of all windows, qualified or not; NaN if none was read
 * @param byPower whether power decided; else the work rate did
 */
public record QualifiedTime(
        double longestSeconds,
        double totalSeconds,
        @Nullable At from,
        @Nullable At brokenAt,
        String brokenWhy,
        double meanWatts,
        boolean byPower) {
    private static final double BRIDGE_SECONDS = 60;
    private static final double EDGE_SECONDS = 30;
    private static final double BEST_MINUTE_SECONDS = 60;

    /** Qualified time of {@code part} over all stages that prove it. */
    public static QualifiedTime of(Role part, Case run, double share) {
        return new Count(Reference.of(part, run.scan(), run.jobSheet()), share)
                .over(part, run.scan().stages());
    }

    /** Time of one stage in which its work was verified and faultless, at {@code share} of its own best minute. */
    static double workedSeconds(StageTally stage, double share) {
        double best = Count.bestMinute(stage.track());
        return stage.track().stream()
                .filter(w -> Count.faultByRate(w, best, share).isEmpty())
                .mapToDouble(Window::seconds)
                .sum();
    }

    private static final class Count {
        private static final Optional<String> ONE_RAIL =
                Optional.of("loaded one rail alone, and no watts say how heavily");

        private final Reference reference;
        private final double share;
        private double stretch;
        private @Nullable At stretchFrom;
        private double longest;
        private @Nullable At longestFrom;
        private double total;
        private @Nullable At brokenAt;
        private String brokenWhy = "";
        private boolean byPower = true;

        Count(Reference reference, double share) {
            this.reference = reference;
            this.share = share;
        }

        QualifiedTime over(Role part, List<StageTally> stages) {
            StageTally before = null;
            double joules = 0;
            double powerSeconds = 0;
            for (StageTally stage : stages) {
                if (!stage.stage().proves().equals(Optional.of(part))) {
                    stretch = 0; // however short: nothing says that the part was loaded meanwhile
                    before = null;
                    continue;
                }
                if (before != null && !follows(before, stage)) {
                    stretch = 0;
                }
                stage(stage);
                for (Window w : stage.track()) {
                    if (!Double.isNaN(w.meanWatts())) {
                        joules += w.meanWatts() * w.seconds();
                        powerSeconds += w.seconds();
                    }
                }
                before = stage;
            }
            return new QualifiedTime(
                    longest,
                    total,
                    longestFrom,
                    brokenAt,
                    brokenWhy,
                    powerSeconds > 0 ? joules / powerSeconds : Double.NaN,
                    byPower && stages.stream().anyMatch(s -> s.stage().proves().equals(Optional.of(part))));
        }

        private static boolean follows(StageTally before, StageTally stage) {
            return stage.stage().asks().isEmpty()
                    && before.begin().segment() == stage.begin().segment()
                    && before.why().equals("completed")
                    && stage.begin().seconds() - before.end().seconds() <= BRIDGE_SECONDS;
        }

        private void stage(StageTally stage) {
            boolean power = reference.watts().isPresent() && stage.powerReadable();
            byPower &= power;
            double bestRate = bestMinute(stage.track());
            List<Optional<String>> faults = stage.track().stream()
                    .map(w -> power
                            ? faultByPower(w, reference.watts().orElseThrow())
                            : stage.fullLoad() ? faultByRate(w, bestRate, share) : ONE_RAIL)
                    .toList();
            int first = faults.indexOf(Optional.<String>empty());
            int last = faults.lastIndexOf(Optional.<String>empty());
            for (int i = 0; i < faults.size(); i++) {
                Window w = stage.track().get(i);
                if (faults.get(i).isEmpty()) {
                    count(w);
                } else if (!stage.fullLoad() && faultOfWork(w).isEmpty()) {
                    stretch = 0;
                } else if (!(comesUp(i, first, w, stage) || goesDown(i, last, w, stage))) {
                    breakOff(w, faults.get(i).get());
                }
            }
        }

        private static boolean comesUp(int i, int first, Window w, StageTally stage) {
            return i < first && w.endSeconds() - stage.begin().seconds() <= EDGE_SECONDS;
        }

        private static boolean goesDown(int i, int last, Window w, StageTally stage) {
            return last >= 0 && i > last && stage.end().seconds() - w.startSeconds() <= EDGE_SECONDS;
        }

        private void breakOff(Window w, String why) {
            stretch = 0;
            if (brokenAt == null) {
                brokenAt = w.at();
                brokenWhy = why;
            }
        }

        private void count(Window w) {
            if (stretch == 0) {
                stretchFrom = w.at();
            }
            stretch += w.seconds();
            total += w.seconds();
            if (stretch > longest) {
                longest = stretch;
                longestFrom = stretchFrom;
            }
        }

        private static Optional<String> faultOfWork(Window w) {
            if (w.errors() > 0) {
                return Optional.of("work was found wrong");
            }
            return w.lowestRate() > 0 ? Optional.empty() : Optional.of("no verified work was done");
        }

        private Optional<String> faultByPower(Window w, double watts) {
            Optional<String> fault = faultOfWork(w);
            if (fault.isPresent()) {
                return fault;
            }
            return w.lowestWatts() >= share * watts
                    ? Optional.empty()
                    : Optional.of(
                            "drew " + Texts.number(w.lowestWatts(), 0) + " W of " + Texts.number(watts, 0) + " W");
        }

        private static Optional<String> faultByRate(Window w, double bestRate, double share) {
            Optional<String> fault = faultOfWork(w);
            if (fault.isPresent()) {
                return fault;
            }
            return w.lowestRate() >= share * bestRate
                    ? Optional.empty()
                    : Optional.of("worked at " + Texts.percent(w.lowestRate() / bestRate) + " of its own best minute");
        }

        /** Highest work rate over a minute, or over the whole stage if it is shorter. */
        private static double bestMinute(List<Window> windows) {
            double all = windows.stream().mapToDouble(Window::seconds).sum();
            double need = Math.min(BEST_MINUTE_SECONDS, all) * 0.999;
            double best = 0;
            int from = 0;
            double work = 0;
            double seconds = 0;
            for (Window w : windows) {
                work += w.work();
                seconds += w.seconds();
                while (seconds - windows.get(from).seconds() >= need) {
                    work -= windows.get(from).work();
                    seconds -= windows.get(from).seconds();
                    from++;
                }
                if (seconds >= need) {
                    best = Math.max(best, work / seconds);
                }
            }
            return best;
        }
    }
}

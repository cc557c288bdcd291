// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.work;

import static dev.loadwitness.runlog.procedure.Parameters.ColdStarts.BOOTS;
import static dev.loadwitness.runlog.procedure.Parameters.ColdStarts.REPLUGS;
import static dev.loadwitness.runlog.procedure.Parameters.ColdStarts.SLEEPS;
import static dev.loadwitness.runlog.procedure.Parameters.ColdStarts.WITHIN;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.finding.Value;
import dev.loadwitness.reporter.scan.Scan;
import dev.loadwitness.reporter.scan.Segment;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.machine.AskTally;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.procedure.Ask;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import dev.loadwitness.runlog.procedure.Stage;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import java.util.function.ToIntFunction;

/**
 * How often the machine was switched on cold, woken and plugged in again as asked, and its load ran soon after and to the end
 * of its stage. A death on the way is named here and judged by {@code interruptions}: what did not happen often enough
 * says nothing against the machine by itself.
 */
public final class ColdStarts implements Rule {
    @Override
    public Criterion criterion() {
        return Criterion.COLD_STARTS;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        double within = setting.seconds(WITHIN);
        List<Count> counts = List.of(
                new Count(Ask.POWER_OFF, "cold boot", (int) setting.count(BOOTS)),
                new Count(Ask.SLEEP, "sleep", (int) setting.count(SLEEPS)),
                new Count(Ask.REPLUG, "replug", (int) setting.count(REPLUGS)));
        List<Evidence> evidence = new ArrayList<>();
        List<String> missing = new ArrayList<>();
        int counted = 0;
        for (Count c : counts) {
            c.count(run.scan(), within, evidence);
            counted += c.counted;
            if (c.counted < c.required) {
                missing.add(c.missing());
            }
        }
        Limit limit = Limit.said(text(counts, c -> c.required) + ", load within " + Texts.duration(within));
        String measured = text(counts, c -> c.counted);
        Outcome outcome = missing.isEmpty() ? Outcome.PASS : counted == 0 ? Outcome.NOT_MEASURED : Outcome.INCONCLUSIVE;
        String because = missing.isEmpty()
                ? "The load was there soon after each of " + measured + ", and ran to the end of its stage."
                : "Cold starts: " + String.join(" ", missing);
        return List.of(Finding.of(setting, "", outcome, because)
                .against(limit, setting.given().isEmpty() ? "default" : "procedure")
                .measured(Value.said(measured))
                .seen(evidence));
    }

    private static String text(List<Count> counts, ToIntFunction<Count> number) {
        List<String> texts = new ArrayList<>();
        for (Count c : counts) {
            if (c.required > 0) {
                int n = number.applyAsInt(c);
                texts.add(n + " " + c.name + (n == 1 ? "" : "s"));
            }
        }
        return String.join(", ", texts);
    }

    /** One kind of start. */
    private static final class Count {
        private final Ask what;
        private final String name;
        private final int required;
        private int counted;
        private final List<String> why = new ArrayList<>();

        Count(Ask what, String name, int required) {
            this.what = what;
            this.name = name;
            this.required = required;
        }

        void count(Scan scan, double within, List<Evidence> evidence) {
            if (required == 0) {
                return;
            }
            for (Stage stage : scan.procedure().stages()) {
                if (!stage.asks().equals(Optional.of(what))) {
                    continue;
                }
                // The last try counts: a stage may have asked again after an interruption.
                Optional<AskTally> ask = scan.asks().stream()
                        .filter(a -> a.what() == what && a.stage().equals(stage.id()))
                        .reduce((a, b) -> b);
                Optional<String> fault = fault(stage, ask, scan, within);
                if (fault.isEmpty()) {
                    counted++;
                    evidence.add(Evidence.of(
                            ask.orElseThrow().done().orElseThrow(),
                            name + " for " + stage.id() + ", load after "
                                    + Texts.duration(ask.orElseThrow().secondsToWork())));
                } else {
                    why.add(stage.id() + ": " + fault.get());
                }
            }
        }

        String missing() {
            String all = counted + " of " + required + " " + name + (required == 1 ? "" : "s") + " counted";
            return why.isEmpty()
                    ? all + ", for no other stage asked for one."
                    : all + " (" + String.join("; ", why) + ").";
        }
    }

    /** Why a start does not count; empty if it does. */
    private static Optional<String> fault(Stage stage, Optional<AskTally> ask, Scan scan, double within) {
        if (ask.isEmpty()) {
            return Optional.of(leftOut(stage, scan).orElse("never asked for"));
        }
        AskTally a = ask.get();
        if (a.done().isEmpty()) {
            return Optional.of(
                    a.leftOut().isEmpty() ? "asked for, and the log has nothing of it" : "left out: " + a.leftOut());
        }
        At done = a.done().get();
        if (a.what() == Ask.POWER_OFF && !bootedAnew(a, scan)) {
            return Optional.of("the machine was not switched off: it is the same boot");
        }
        Optional<StageTally> ran = scan.stages().stream()
                .filter(s -> s.stage().id().equals(stage.id()))
                .filter(s -> s.begin().segment() == done.segment() && s.begin().seconds() >= done.seconds())
                .findFirst();
        if (Double.isNaN(a.secondsToWork())) {
            return Optional.of("no verified work followed");
        }
        if (a.secondsToWork() > within) {
            return Optional.of("the load came only after " + Texts.duration(a.secondsToWork()));
        }
        if (ran.isEmpty()) {
            return Optional.of("the run broke off before the stage began");
        }
        if (!ran.get().completed()) {
            return Optional.of(
                    ran.get().why().equals("interrupted")
                            ? "the run broke off " + Texts.duration(ran.get().seconds()) + " into it; see interruptions"
                            : "stopped " + Texts.duration(ran.get().seconds()) + " into it");
        }
        boolean worked =
                !ran.get().track().isEmpty() && ran.get().track().stream().allMatch(w -> w.lowestRate() > 0);
        return worked ? Optional.empty() : Optional.of("the load did not work all the time");
    }

    private static Optional<String> leftOut(Stage stage, Scan scan) {
        return scan.events(EventKind.STAGE_LEFT_OUT)
                .filter(e -> e.event().text("stage").equals(stage.id()))
                .map(e -> "left out: " + e.event().text("why"))
                .findFirst();
    }

    private static boolean bootedAnew(AskTally ask, Scan scan) {
        if (ask.asked().isEmpty()) {
            return false;
        }
        Optional<String> before = bootId(scan, ask.asked().get());
        Optional<String> after = bootId(scan, ask.done().orElseThrow());
        return ask.explainsEndOf(ask.asked().get().segment()) && before.isPresent() && !before.equals(after);
    }

    private static Optional<String> bootId(Scan scan, At at) {
        return scan.segments().stream()
                .map(Segment::boot)
                .filter(b -> b.at().segment() == at.segment())
                .map(b -> b.bootId())
                .findFirst();
    }
}

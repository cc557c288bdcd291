// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.breakdown;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Held;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.finding.Value;
import dev.loadwitness.reporter.scan.Scan;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.NotedEvent;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import dev.loadwitness.runlog.procedure.LoadKind;
import dev.loadwitness.runlog.procedure.Stage;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.List;
import java.util.Optional;

/**
 * Whether a fault follows the discrete GPU: stages that load the integrated GPU by itself against those that load the
 * discrete one by itself. What goes wrong there fails by other criteria too; this one says what it hangs on.
 */
public final class Isolation implements Rule {
    @Override
    public Criterion criterion() {
        return Criterion.ISOLATION;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        Side integrated = Side.of(Role.GPU_INTEGRATED, run);
        Side discrete = Side.of(Role.GPU_DISCRETE, run);
        Said said = say(integrated, discrete);
        List<Evidence> evidence = new ArrayList<>(integrated.evidence());
        evidence.addAll(discrete.evidence());
        Finding finding = Finding.of(setting, "", said.outcome, said.because)
                .against(Limit.said("both clean"), "design of the criterion")
                .seen(evidence);
        return List.of(
                said.outcome == Outcome.NOT_MEASURED
                        ? finding
                        : finding.measured(
                                Value.said("integrated " + integrated.word() + ", discrete " + discrete.word())));
    }

    private record Said(Outcome outcome, String because) {}

    private static Said say(Side integrated, Side discrete) {
        if (!integrated.ran || !discrete.ran) {
            return new Said(Outcome.NOT_MEASURED, notBoth(integrated, discrete));
        }
        Optional<Fault> here = integrated.first();
        Optional<Fault> there = discrete.first();
        if (here.isPresent() && there.isPresent()) {
            return new Said(
                    Outcome.FAIL,
                    "The fault does not hang on the discrete GPU alone: with the integrated GPU " + here.get().text
                            + " too. Look at what both share: power path, cooling, memory.");
        }
        if (here.isPresent()) {
            boolean clean = discrete.complete;
            return new Said(
                    clean ? Outcome.FAIL : Outcome.INCONCLUSIVE,
                    "With the integrated GPU " + here.get().text
                            + (clean
                                    ? ", with the discrete one nothing did: the fault does not follow the discrete GPU. Look"
                                            + " at the processor, its supply and its cooling."
                                    : "; the discrete one was not loaded to the end of its stages, so it cannot be told"
                                            + " whether it is faulty too."));
        }
        if (there.isPresent()) {
            return follows(integrated, discrete, there.get());
        }
        if (!integrated.complete || !discrete.complete) {
            return new Said(
                    Outcome.INCONCLUSIVE,
                    "Nothing went wrong with either GPU, but "
                            + (integrated.complete ? "the discrete" : "the integrated")
                            + " one was not loaded to the end of its stages.");
        }
        return new Said(
                Outcome.PASS,
                "Integrated and discrete GPU each took their load by themselves, and nothing went wrong.");
    }

    private static Said follows(Side integrated, Side discrete, Fault fault) {
        String what = "With the discrete GPU " + fault.text;
        if (!integrated.complete) {
            return new Said(
                    Outcome.INCONCLUSIVE,
                    what + "; the integrated one was not loaded to the end of its stages, so it cannot be told whether"
                            + " the fault follows the discrete GPU.");
        }
        if (integrated.seconds < fault.loadedSeconds) {
            return new Said(
                    Outcome.INCONCLUSIVE,
                    what + ", after " + Texts.duration(fault.loadedSeconds)
                            + " of its load; the integrated one was loaded for only "
                            + Texts.duration(integrated.seconds)
                            + ", too short to tell whether the fault follows the discrete GPU.");
        }
        if (fault.heldBack
                && !integrated.tellsOfHolding
                && discrete.faults.stream().allMatch(f -> f.heldBack)) {
            return new Said(
                    Outcome.INCONCLUSIVE,
                    what
                            + "; nothing tells whether the integrated one held itself back, so it cannot be told whether the"
                            + " fault follows the discrete GPU.");
        }
        return new Said(
                Outcome.FAIL,
                "The fault follows the discrete GPU: with it " + fault.text
                        + ", with the integrated GPU nothing did in " + Texts.duration(integrated.seconds) + ".");
    }

    private static String notBoth(Side integrated, Side discrete) {
        Optional<Fault> fault = integrated.first().or(discrete::first);
        String missing = !integrated.ran && !discrete.ran
                ? "Neither GPU was loaded by itself"
                : (integrated.ran ? "The discrete" : "The integrated") + " GPU was not loaded by itself";
        return fault.map(f -> "With the " + (integrated.ran ? "integrated" : "discrete") + " GPU " + f.text + ". ")
                        .orElse("")
                + missing + ", so it cannot be told what a fault would follow.";
    }

    /**
     * Something that went wrong.
     *
     * @param loadedSeconds how long that GPU had been loaded by itself until then
     * @param text as it stands after "with the discrete GPU"
     * @param heldBack whether the GPU held itself back, which not every GPU tells
     */
    private record Fault(At at, double loadedSeconds, String text, boolean heldBack) {}

    /**
     * One of the two GPUs.
     *
     * @param ran whether it did work by itself
     * @param complete whether all of its stages ran to their end
     * @param seconds how long it was loaded by itself, in stages that ran to their end
     */
    private record Side(
            boolean ran,
            boolean complete,
            double seconds,
            boolean tellsOfHolding,
            List<Fault> faults,
            List<StageTally> stages) {
        static Side of(Role gpu, Case run) {
            List<Stage> planned = run.scan().procedure().stages().stream()
                    .filter(s -> loadsAlone(s, gpu))
                    .toList();
            List<StageTally> stages = run.scan().stages().stream()
                    .filter(s -> loadsAlone(s.stage(), gpu))
                    .toList();
            List<Fault> faults = new ArrayList<>();
            double loaded = 0;
            for (StageTally stage : stages) {
                faults(run, stage, loaded, faults);
                loaded += stage.seconds();
            }
            return new Side(
                    run.scan().has(gpu, Metric.WORK_VERIFIED) && stages.stream().anyMatch(s -> s.verifiedWork() > 0),
                    planned.stream()
                            .allMatch(p -> stages.stream()
                                    .anyMatch(s ->
                                            s.stage().id().equals(p.id()) && s.completed() && s.verifiedWork() > 0)),
                    stages.stream()
                            .filter(StageTally::completed)
                            .mapToDouble(StageTally::seconds)
                            .sum(),
                    Held.DEFECTS.stream()
                            .anyMatch(cause -> Held.of(cause, stages).measured()),
                    faults,
                    stages);
        }

        private static boolean loadsAlone(Stage stage, Role gpu) {
            return stage.gpu().equals(Optional.of(gpu))
                    && stage.loads().stream().allMatch(LoadKind::needsGpu);
        }

        private static void faults(Case run, StageTally stage, double loadedBefore, List<Fault> faults) {
            Interruptions.found(run).stream()
                    .filter(i -> i.byMachine()
                            && i.at().filter(at -> within(stage, at)).isPresent())
                    .forEach(i -> faults.add(fault(stage, loadedBefore, i.at().get(), "the machine broke off", false)));
            for (Cause cause : Held.DEFECTS) {
                Held held = Held.of(cause, List.of(stage));
                if (held.episodes() > 0 && held.first() != null) {
                    faults.add(fault(
                            stage,
                            loadedBefore,
                            held.first(),
                            "the chip held itself back (" + held.name() + ")",
                            true));
                }
            }
            Scan scan = run.scan();
            if (stage.workErrors() > 0) {
                At at = scan.events(EventKind.COMPUTE_ERROR)
                        .map(NotedEvent::at)
                        .filter(a -> within(stage, a))
                        .findFirst()
                        .orElse(stage.end());
                faults.add(fault(stage, loadedBefore, at, "results were wrong", false));
            }
            scan.events().stream()
                    .filter(e -> within(stage, e.at()) && HardwareErrors.tellsOfUncorrected(e.event()))
                    .forEach(e ->
                            faults.add(fault(stage, loadedBefore, e.at(), "the platform reported a fault", false)));
        }

        private static Fault fault(StageTally stage, double loadedBefore, At at, String text, boolean heldBack) {
            return new Fault(
                    at,
                    loadedBefore + Math.max(0, at.seconds() - stage.begin().seconds()),
                    text + " in stage " + stage.stage().id(),
                    heldBack);
        }

        private static boolean within(StageTally stage, At at) {
            return at.segment() == stage.begin().segment()
                    && at.seconds() >= stage.begin().seconds()
                    && at.seconds() <= stage.end().seconds();
        }

        Optional<Fault> first() {
            return faults.stream()
                    .min(Comparator.comparingDouble((Fault f) -> f.loadedSeconds)
                            .thenComparing(f -> f.heldBack));
        }

        String word() {
            return !faults.isEmpty() ? "faulty" : complete ? "clean" : "cut short";
        }

        List<Evidence> evidence() {
            List<Evidence> evidence = new ArrayList<>();
            stages.forEach(s ->
                    evidence.add(Evidence.of(s.begin(), "stage " + s.stage().id() + " began; " + s.why())));
            first().ifPresent(f -> evidence.add(Evidence.of(f.at, f.text)));
            return evidence;
        }
    }
}

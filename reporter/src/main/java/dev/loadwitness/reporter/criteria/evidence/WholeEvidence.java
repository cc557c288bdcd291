// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.evidence;

import static dev.loadwitness.runlog.procedure.Parameters.Evidence.COVERAGE;
import static dev.loadwitness.runlog.procedure.Parameters.Evidence.LONGEST_GAP;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.finding.Amount;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.finding.Value;
import dev.loadwitness.reporter.scan.Scan;
import dev.loadwitness.reporter.scan.Segment;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.file.line.Damage;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.ArrayList;
import java.util.List;
import java.util.Set;
import java.util.stream.Collectors;

/**
 * The log is whole, closed, covers the run without long gaps, and the witness proved before each soak that it can see.
 * Weak evidence never fails a machine: it leaves it unproven.
 */
public final class WholeEvidence implements Rule {
    /** Times in a log are rounded; plans differ by seconds at least. */
    private static final double A_MOMENT_SECONDS = 0.01;

    private static final int MOST_DAMAGES = 10;

    @Override
    public Criterion criterion() {
        return Criterion.EVIDENCE;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        Scan scan = run.scan();
        List<String> holes = new ArrayList<>();
        List<Evidence> evidence = new ArrayList<>();
        damage(scan, holes, evidence);
        closed(scan, holes);
        double coverage = coverage(setting, scan, holes);
        gaps(setting, scan, holes, evidence);
        witness(scan, holes, evidence);
        ambiguous(scan, holes);
        boolean pass = holes.isEmpty();
        String because = pass
                ? "The log is whole and closed"
                        + (scan.procedure().provedParts().isEmpty()
                                ? "."
                                : ". The witness caught every fault that was planted.")
                : String.join(" ", holes);
        return List.of(Finding.of(setting, "", pass ? Outcome.PASS : Outcome.INCONCLUSIVE, because)
                .against(
                        Limit.said("coverage " + Texts.percent(setting.share(COVERAGE)) + ", gaps up to "
                                + Texts.duration(setting.seconds(LONGEST_GAP))),
                        setting.origin(COVERAGE))
                .measured(new Value.Single(Amount.percent(coverage), Value.Sign.MINUS, "coverage ", ""))
                .seen(evidence));
    }

    private static void damage(Scan scan, List<String> holes, List<Evidence> evidence) {
        List<Damage> damages =
                scan.read().damages().stream().filter(d -> !d.isTornTail()).toList();
        if (!scan.read().whole()) {
            Damage first = damages.isEmpty() ? scan.read().damages().get(0) : damages.get(0);
            holes.add("The log is damaged or was altered, first at " + first.place() + " ("
                    + first.kind().word() + "): nothing that it says can be relied on.");
        }
        damages.stream()
                .limit(MOST_DAMAGES)
                .forEach(d -> evidence.add(Evidence.of(d.place(), d.kind().word() + ": " + d.detail())));
        if (scan.read().unknownMust()) {
            holes.add("The log has a record that must be understood and that this version does not know.");
        }
    }

    private static void closed(Scan scan, List<String> holes) {
        if (!scan.read().closed()) {
            holes.add("The log was never closed; where it was written, resume says how the run ended, and closes it.");
        }
    }

    private static double coverage(CriterionSetting setting, Scan scan, List<String> holes) {
        double coverage = scan.samplesDue() == 0 ? 0 : Math.min(1, (double) scan.samples() / scan.samplesDue());
        if (coverage < setting.share(COVERAGE)) {
            holes.add("Only " + Texts.percent(coverage) + " of the samples due are there.");
        }
        return coverage;
    }

    private static void gaps(CriterionSetting setting, Scan scan, List<String> holes, List<Evidence> evidence) {
        for (Segment s : scan.segments()) {
            if (s.gapAt() != null && s.longestGapSeconds() > setting.seconds(LONGEST_GAP)) {
                holes.add("For " + Texts.duration(s.longestGapSeconds()) + " before "
                        + s.gapAt().clock() + " nothing was sampled.");
                evidence.add(Evidence.of(s.gapAt(), "end of the longest gap"));
            }
        }
    }

    private static void witness(Scan scan, List<String> holes, List<Evidence> evidence) {
        for (StageTally stage : scan.stages()) {
            if (stage.stage().proves().isEmpty()) {
                continue;
            }
            if (stage.checks().missed() > 0) {
                holes.add("Before stage " + stage.stage().id() + " a planted fault was not caught.");
                evidence.add(Evidence.of(stage.begin(), "planted fault not caught"));
            } else if (stage.checks().caught() < 2) {
                holes.add("Before stage " + stage.stage().id()
                        + " the witness did not prove that it can see (a wrong result and a silent sensor, planted).");
                evidence.add(Evidence.of(stage.begin(), "witness checks missing"));
            }
        }
        scan.events(EventKind.WITNESS_STALLED).limit(MOST_DAMAGES).forEach(e -> {
            holes.add("The witness itself stood still for "
                    + Texts.duration(e.event().number("seconds")) + " at " + e.at().clock() + ".");
            evidence.add(Evidence.of(e.at(), e.event().text("detail")));
        });
        scan.events(EventKind.RECORDS_LEFT_BEHIND).limit(MOST_DAMAGES).forEach(e -> {
            holes.add(
                    "When the run was taken up again, " + Texts.number(e.event().number("count"), 0)
                            + " records behind spoilt bytes (" + e.event().text("damage") + " at "
                            + e.event().text("place") + ") were left behind.");
            evidence.add(Evidence.of(e.at(), "records left behind"));
        });
        scan.events(EventKind.SAMPLES_DROPPED).limit(MOST_DAMAGES).forEach(e -> {
            holes.add(Texts.number(e.event().number("count"), 0) + " samples could not be kept before " + e.at().clock()
                    + ".");
            evidence.add(Evidence.of(e.at(), "samples dropped"));
        });
    }

    /** The run's own plan against the one that its header gives: two programs that disagree speak of different stages. */
    private static void planned(Scan scan, List<String> holes) {
        scan.events(EventKind.STAGE_BEGIN)
                .flatMap(e -> scan.procedure().stages().stream()
                        .filter(s -> s.id().equals(e.event().text("stage")))
                        .filter(s -> Math.abs(e.event().number("seconds")
                                        - s.duration().toNanos() / 1e9)
                                > A_MOMENT_SECONDS)
                        .map(s -> "Stage " + s.id() + " was begun for "
                                + Texts.duration(e.event().number("seconds"))
                                + ", while the procedure and the job sheet in the log give it "
                                + Texts.duration(s.duration().toNanos() / 1e9) + "."))
                .distinct()
                .limit(MOST_DAMAGES)
                .forEach(holes::add);
    }

    private static void ambiguous(Scan scan, List<String> holes) {
        if (scan.eventCount() > scan.events().size()) {
            holes.add("There are more events than can be judged (" + scan.eventCount() + ").");
        }
        scan.events(EventKind.LOAD_BEGIN)
                .filter(e -> Boolean.TRUE.equals(e.event().facts().get("standIn")))
                .map(e -> "Loads of " + e.event().text("role") + " ran on "
                        + e.event().text("device") + ", which is no GPU: the run shows nothing about one.")
                .distinct()
                .forEach(holes::add);
        planned(scan, holes);
        Set<String> leftOut = scan.events(EventKind.STAGE_LEFT_OUT)
                .map(e -> e.event().text("stage"))
                .collect(Collectors.toSet());
        long planned = scan.procedure().stages().stream()
                // Whether enough was asked and done is for the criterion that counts it.
                .filter(s -> !(s.ifPresent() || s.asks().isPresent()) || !leftOut.contains(s.id()))
                .count();
        long ran = scan.stages().stream()
                .filter(s -> s.why().equals("completed"))
                .map(s -> s.stage().id())
                .distinct()
                .count();
        if (ran < planned) {
            holes.add(ran + " of " + planned + " stages ran to " + (ran == 1 ? "its end." : "their end."));
        }
    }
}

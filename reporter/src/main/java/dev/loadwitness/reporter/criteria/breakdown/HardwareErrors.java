// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.breakdown;

import static dev.loadwitness.runlog.procedure.Parameters.HardwareErrors.RISE;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.finding.Value;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.NotedEvent;
import dev.loadwitness.reporter.scan.machine.ErrorTally;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.HashMap;
import java.util.HashSet;
import java.util.List;
import java.util.Map;
import java.util.Set;
import java.util.stream.Stream;

/**
 * Errors that the platform itself reports, of any part: one that was not corrected, a lost device or a driver's reset
 * fails. Corrected ones occur on healthy machines; only where their rate rises with the load does a healthy machine stay
 * unproven.
 */
public final class HardwareErrors implements Rule {
    /** Fewer corrected errors say nothing about a rate (ours). */
    private static final double LEAST_CORRECTED = 10;

    private static final int MOST_EVIDENCE = 5;

    private static final String LOST = "lost";
    private static final String RESET = "reset";
    private static final double ONE_RESET_SECONDS = 30;

    /** Words by which the agent tells of what the platform could not correct. */
    private static final Set<String> UNCORRECTED = Set.of(
            "gpu-controller",
            "gpu-fault",
            "gpu-firmware",
            "gpu-hang",
            "gpu-link",
            "gpu-memory",
            "gpu-off-the-bus",
            "gpu-power",
            "gpu-reset",
            "link-down",
            "link-uncorrected",
            "machine-check",
            "memory-uncorrected",
            "storage-error",
            "thermal-shutdown");

    /** Words of what other criteria judge, or what was put right. Any other word is one that cannot be judged here. */
    private static final Set<String> NO_ERROR = Set.of(
            "cpu-heat",
            "device-connected",
            "device-disconnected",
            "link-corrected",
            "machine-check-corrected",
            "memory-corrected");

    @Override
    public Criterion criterion() {
        return Criterion.HARDWARE_ERRORS;
    }

    /** Whether an event tells of an error that the platform could not correct. */
    static boolean tellsOfUncorrected(Event event) {
        return event.known()
                .filter(kind -> kind == EventKind.DEVICE_LOST
                        || kind == EventKind.DRIVER_RESET
                        || (kind == EventKind.KERNEL_MESSAGE && UNCORRECTED.contains(event.text("fault"))))
                .isPresent();
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        double rise = setting.count(RISE);
        Limit limit =
                Limit.said("none uncorrected; corrected at most " + Texts.number(rise, 0) + " times the idle rate");
        String origin = setting.origin(RISE);
        List<ErrorTally> uncorrected = of(run, Metric.HARDWARE_ERRORS);
        List<ErrorTally> corrected = Stream.concat(
                        of(run, Metric.CORRECTED_ERRORS).stream(), of(run, Metric.PCIE_REPLAYS).stream())
                .toList();
        List<NotedEvent> told = eachOnce(run.scan().events().stream()
                .filter(e -> tellsOfUncorrected(e.event()))
                .sorted(Comparator.comparing(
                        NotedEvent::at, Comparator.comparingInt(At::segment).thenComparingDouble(At::seconds)))
                .toList());
        double counted = uncorrected.stream().mapToDouble(ErrorTally::total).sum();
        List<Evidence> evidence = new ArrayList<>();
        told.stream().limit(MOST_EVIDENCE).forEach(e -> evidence.add(Evidence.of(e.at(), text(e))));
        Stream.concat(uncorrected.stream(), corrected.stream())
                .flatMap(t -> Stream.ofNullable(t.first())
                        .map(at -> Evidence.of(at, t.channel().id() + " began to grow")))
                .limit(MOST_EVIDENCE)
                .forEach(evidence::add);
        Value measured = Value.said(Texts.number(counted + told.size(), 0) + " uncorrected, "
                + Texts.number(corrected.stream().mapToDouble(ErrorTally::total).sum(), 0) + " corrected");
        if (!told.isEmpty() || counted > 0) {
            String first = told.isEmpty()
                    ? Texts.number(counted, 0)
                            + (counted == 1
                                    ? " error that it could not correct was counted"
                                    : " errors that it could not correct were counted")
                            + uncorrected.stream()
                                    .flatMap(t -> Stream.ofNullable(t.first()))
                                    .findFirst()
                                    .map(at -> ", from " + at.clock() + " on")
                                    .orElse("")
                    : text(told.get(0)) + " at " + told.get(0).at().clock();
            return List.of(Finding.of(
                            setting,
                            "",
                            Outcome.FAIL,
                            "The platform reports a fault of its own: " + first
                                    + ". Look at the part's supply, its link and its memory.")
                    .against(limit, origin)
                    .measured(measured)
                    .seen(evidence));
        }
        List<String> unwatched = run.parts().stream()
                .filter(part -> part != Role.MEMORY)
                .filter(part -> Stream.concat(uncorrected.stream(), corrected.stream())
                        .noneMatch(t -> t.channel().role() == part))
                .map(Texts::part)
                .toList();
        if (!unwatched.isEmpty() || (uncorrected.isEmpty() && corrected.isEmpty())) {
            return List.of(Finding.of(
                            setting,
                            "",
                            Outcome.NOT_MEASURED,
                            "Nothing on this machine counts errors of "
                                    + (unwatched.isEmpty() ? "its parts" : String.join(" and ", unwatched)) + ".")
                    .against(limit, origin)
                    .measured(measured));
        }
        List<NotedEvent> unclear = run.scan()
                .events(EventKind.KERNEL_MESSAGE)
                .filter(e -> !e.event().text("fault").isEmpty())
                .filter(e -> !NO_ERROR.contains(e.event().text("fault")))
                .toList();
        if (!unclear.isEmpty()) {
            unclear.stream().limit(MOST_EVIDENCE).forEach(e -> evidence.add(Evidence.of(e.at(), text(e))));
            return List.of(Finding.of(
                            setting,
                            "",
                            Outcome.INCONCLUSIVE,
                            "The system reports what may be a program's fault or the machine's: " + text(unclear.get(0))
                                    + " at " + unclear.get(0).at().clock() + ".")
                    .against(limit, origin)
                    .measured(measured)
                    .seen(evidence));
        }
        List<ErrorTally> rising = corrected.stream().filter(t -> rises(t, rise)).toList();
        String because = rising.isEmpty()
                ? "The platform reports no error that it could not correct, and no rise of those that it could."
                : "Corrected errors of " + rising.get(0).channel().id() + " came "
                        + rate(rising.get(0).loaded(), rising.get(0).loadedSeconds()) + " an hour under load, "
                        + rate(rising.get(0).idle(), rising.get(0).idleSeconds())
                        + " at rest: each was put right, but the rise with the load is not explained.";
        return List.of(Finding.of(setting, "", rising.isEmpty() ? Outcome.PASS : Outcome.INCONCLUSIVE, because)
                .against(limit, origin)
                .measured(measured)
                .seen(evidence));
    }

    /**
     * Library, kernel and load may each tell of the same loss, or of the same reset. A part that is lost is lost until a
     * reset; what tells of a reset within half a minute tells of the same.
     */
    private static List<NotedEvent> eachOnce(List<NotedEvent> told) {
        List<NotedEvent> once = new ArrayList<>();
        Set<String> lost = new HashSet<>();
        Map<String, At> resets = new HashMap<>();
        for (NotedEvent e : told) {
            String part = e.event().text("role");
            String what = what(e);
            boolean again = false;
            if (what.equals(LOST)) {
                again = !lost.add(part);
            } else if (what.equals(RESET)) {
                At before = resets.put(part, e.at());
                again = before != null
                        && before.segment() == e.at().segment()
                        && e.at().seconds() - before.seconds() <= ONE_RESET_SECONDS;
                lost.remove(part);
            }
            if (!again) {
                once.add(e);
            }
        }
        return once;
    }

    private static String what(NotedEvent e) {
        String kind = e.event().kind();
        String fault = e.event().text("fault");
        if (kind.equals(EventKind.DEVICE_LOST.word()) || fault.equals("gpu-off-the-bus")) {
            return LOST;
        }
        return kind.equals(EventKind.DRIVER_RESET.word()) || fault.equals("gpu-reset") ? RESET : fault;
    }

    private static List<ErrorTally> of(Case run, Metric metric) {
        return run.scan().errors().stream()
                .filter(t -> t.channel().measures(metric))
                .filter(ErrorTally::answered)
                .toList();
    }

    private static String text(NotedEvent e) {
        String kind = e.event().kind().replace('-', ' ');
        String what = Stream.of("fault", "detail", "text", "device")
                .map(fact -> e.event().text(fact))
                .filter(t -> !t.isEmpty())
                .findFirst()
                .orElse("");
        return kind + (what.isEmpty() ? "" : " (" + what + ")");
    }

    /** An idle time without errors is taken to have had one just after its end: no rate is known to be zero. */
    private static boolean rises(ErrorTally t, double rise) {
        if (t.loaded() < LEAST_CORRECTED || t.loadedSeconds() <= 0 || t.idleSeconds() <= 0) {
            return false;
        }
        return t.loaded() / t.loadedSeconds() > rise * Math.max(1, t.idle()) / t.idleSeconds();
    }

    private static String rate(double count, double seconds) {
        return seconds <= 0 ? "at an unknown rate" : Texts.number(3600 * count / seconds, 0) + " times";
    }
}

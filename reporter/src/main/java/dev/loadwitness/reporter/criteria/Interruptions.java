// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria;

import dev.loadwitness.reporter.scan.At;
import dev.loadwitness.reporter.scan.NotedEvent;
import dev.loadwitness.reporter.scan.Scan;
import dev.loadwitness.reporter.scan.Segment;
import dev.loadwitness.reporter.scan.StageTally;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.Word;
import dev.loadwitness.runlog.procedure.Ask;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;

/**
 * Nothing ended the run before its time. What the machine did fails; what a person or the operating system did, and
 * what cannot be told apart, is inconclusive.
 */
final class Interruptions implements Rule {
    /** This far below its own slowdown a part did not die of heat (common practice, no source). */
    private static final double COLD_KELVIN = 10;

    /** A temperature that moved less than this in the last minute was steady (common practice, no source). */
    private static final double STEADY_KELVIN = 3;

    @Override
    public Criterion criterion() {
        return Criterion.INTERRUPTIONS;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        List<Found> found = new ArrayList<>();
        restarts(run, found);
        ending(run, found);
        whileRunning(run.scan(), found);
        Outcome outcome = found.stream().anyMatch(f -> f.byMachine)
                ? Outcome.FAIL
                : found.isEmpty() ? Outcome.PASS : Outcome.INCONCLUSIVE;
        String because = found.isEmpty()
                ? "The run went from its first stage to its last without a break."
                : found.stream()
                        .filter(f -> f.byMachine == (outcome == Outcome.FAIL))
                        .findFirst()
                        .orElseThrow()
                        .text;
        return List.of(Finding.of(setting, "", outcome, because)
                .against("none", "design of the criterion")
                .measured(Integer.toString(found.size()), "")
                .seen(found.stream().map(f -> f.evidence).toList()));
    }

    /** One interruption. */
    private record Found(boolean byMachine, String text, Evidence evidence) {}

    private static void restarts(Case run, List<Found> found) {
        List<Segment> segments = run.scan().segments();
        for (int i = 1; i < segments.size(); i++) {
            Segment before = segments.get(i - 1);
            Segment after = segments.get(i);
            boolean sameBoot = !after.boot().bootId().isEmpty()
                    && after.boot().bootId().equals(before.boot().bootId());
            int ended = before.boot().at().segment();
            if (!sameBoot && run.scan().asks().stream().anyMatch(ask -> ask.explainsEndOf(ended))) {
                continue; // It was switched off because a stage asked for it; cold-starts counts it.
            }
            Evidence evidence = new Evidence(
                    after.place().toString(), "", sameBoot ? "agent started again in the same boot" : "next boot");
            if (sameBoot) {
                found.add(new Found(
                        false, "The agent was stopped and started again in the same boot: not the machine.", evidence));
            } else {
                found.add(new Found(true, "Shut off " + death(run, before), evidence));
            }
        }
    }

    private static void ending(Case run, List<Found> found) {
        Scan scan = run.scan();
        if (scan.close().isEmpty()) {
            Segment last = scan.segments().isEmpty()
                    ? null
                    : scan.segments().get(scan.segments().size() - 1);
            String text = last == null || last.last() == null
                    ? "The log breaks off before its first sample"
                    : "The log breaks off " + death(run, last);
            found.add(new Found(
                    false,
                    text + " The machine shut off, hung, or the agent was killed: this log alone cannot tell which.",
                    last == null || last.last() == null
                            ? new Evidence("end of file", "", "no close")
                            : Evidence.of(last.last(), "last sample; no close follows")));
            return;
        }
        Close close = scan.close().get();
        Optional<CloseReason> reason = Word.find(CloseReason.class, close.reason());
        if (reason.filter(r -> r == CloseReason.COMPLETED).isPresent()) {
            return;
        }
        At at = scan.closedAt().orElseThrow();
        if (reason.filter(r -> r == CloseReason.INTERRUPTED).isPresent() && !found.isEmpty()) {
            return; // The restart that led to this close is already listed.
        }
        String detail = close.detail().isEmpty() ? "" : ": " + sentence(close.detail());
        if (reason.filter(r -> r == CloseReason.SAFETY_STOP).isPresent()) {
            found.add(safetyStop(scan, at, detail));
            return;
        }
        String text =
                switch (reason.orElse(CloseReason.AGENT_FAILED)) {
                    case OPERATOR_STOP -> "Stopped by the operator at " + at.clock() + ".";
                    case DEVICE_ABSENT -> "Ended at " + at.clock() + " because a device was absent" + detail;
                    case WITNESS_BLIND ->
                        "Ended at " + at.clock() + " because a planted fault was not caught: the witness could not see"
                                + detail;
                    case LOAD_FAILED -> "Ended at " + at.clock() + " because the load itself failed" + detail;
                    case STORAGE_FULL -> "Ended at " + at.clock() + " because the log's disk was full or gone" + detail;
                    default -> "Ended at " + at.clock() + " with reason '" + close.reason() + "'" + detail;
                };
        found.add(new Found(
                false, text.endsWith(".") ? text : text + ".", Evidence.of(at, "close, reason " + close.reason())));
    }

    private static Found safetyStop(Scan scan, At at, String detail) {
        Optional<NotedEvent> stop = scan.events(EventKind.SAFETY_STOP).reduce((a, b) -> b);
        String why = stop.map(s -> s.event().text("why")).orElse("");
        String said = stop.map(s -> s.event().text("detail"))
                .filter(d -> !d.isEmpty())
                .map(d -> ": " + sentence(d))
                .orElse(detail);
        // A sensor that falls silent, or a part that nothing guards, says nothing against the machine.
        boolean byMachine = why.equals("ceiling") || why.equals("fan") || why.equals("adapter");
        String pointer =
                switch (why) {
                    case "ceiling" -> " Look at heatsink contact, pads, paste, fans and vents.";
                    case "fan" -> " Look at the fan, its plug and its driver on the board.";
                    case "adapter" ->
                        " Look at the adapter, its plug, the power jack and the charging circuit; if it"
                                + " was unplugged by hand, run again.";
                    default -> "";
                };
        String text = "Load taken off for safety at " + at.clock() + (said.isEmpty() ? "." : said);
        return new Found(
                byMachine,
                (text.endsWith(".") ? text : text + ".") + pointer,
                Evidence.of(stop.map(NotedEvent::at).orElse(at), "safety stop" + (why.isEmpty() ? "" : ", " + why)));
    }

    private static void whileRunning(Scan scan, List<Found> found) {
        scan.events(EventKind.HANG)
                .forEach(e -> found.add(new Found(
                        true,
                        "The machine stood still for "
                                + Texts.duration(e.event().number("seconds")) + " at " + e.at().clock() + ".",
                        Evidence.of(e.at(), "hang"))));
        scan.events(EventKind.SUSPENDED)
                .filter(e -> scan.asks().stream().noneMatch(ask -> ask.what() == Ask.SLEEP && ask.covers(e.at())))
                .forEach(e -> found.add(new Found(
                        false,
                        "The machine slept for " + Texts.duration(e.event().number("seconds")) + " at " + e.at().clock()
                                + ".",
                        Evidence.of(e.at(), "suspended"))));
    }

    /** When, in which stage, and whether the last minute points to heat. */
    private static String death(Case run, Segment segment) {
        At last = segment.last();
        if (last == null) {
            return "before its first sample.";
        }
        Optional<StageTally> stage = run.scan().stages().stream()
                .filter(s -> s.begin().segment() == last.segment() && s.why().equals("interrupted"))
                .reduce((a, b) -> b);
        StringBuilder text = new StringBuilder("after ");
        text.append(Texts.duration(last.seconds()));
        stage.ifPresent(s -> text.append(", ")
                .append(Texts.duration(s.seconds()))
                .append(" into stage ")
                .append(s.stage().id()));
        stage.flatMap(s -> s.stage().proves())
                .flatMap(part -> lastMinute(segment, part))
                .ifPresent(text::append);
        return text.append('.').toString();
    }

    private static Optional<String> lastMinute(Segment segment, Role part) {
        for (Channel c : segment.lastMoments().channels(part, Metric.TEMPERATURE)) {
            double temperature = segment.lastMoments().last(c);
            if (Double.isNaN(temperature) || c.limit(LimitType.THROTTLED).isEmpty()) {
                continue;
            }
            double below = c.limit(LimitType.THROTTLED).getAsDouble() - temperature;
            double change = segment.lastMoments().change(c);
            String reading = ", at " + Texts.number(temperature, 0) + " °C, " + Texts.number(below, 0)
                    + " K below its own slowdown";
            if (below >= COLD_KELVIN && Math.abs(change) <= STEADY_KELVIN) {
                return Optional.of(reading + " and steady: suspect the power path");
            }
            return Optional.of(
                    below < COLD_KELVIN
                            ? reading + ": suspect heat"
                            : reading + ", " + (change > 0 ? "rising" : "falling") + " by "
                                    + Texts.number(Math.abs(change), 0) + " K in the last minute");
        }
        return Optional.empty();
    }

    private static String sentence(String text) {
        return text.endsWith(".") ? text.substring(0, text.length() - 1) : text;
    }
}

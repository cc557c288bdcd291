// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.breakdown;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.finding.Amount;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Table;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.finding.Value;
import dev.loadwitness.reporter.scan.Scan;
import dev.loadwitness.reporter.scan.Segment;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.NotedEvent;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Word;
import dev.loadwitness.runlog.file.line.Place;
import dev.loadwitness.runlog.procedure.Ask;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.ArrayList;
import java.util.List;
import java.util.Locale;
import java.util.Optional;

/**
 * Nothing ended the run before its time. What the machine did fails; what a person or the operating system did, and
 * what cannot be told apart, is inconclusive.
 */
public final class Interruptions implements Rule {
    /** So many are told in tables. */
    private static final int MOST_TOLD = 5;

    /** The watch tells of a sleep, and the stage of what it asked for, within this time of each other (ours). */
    private static final double TOGETHER_SECONDS = 5;

    @Override
    public Criterion criterion() {
        return Criterion.INTERRUPTIONS;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        List<Interruption> found = found(run);
        Outcome outcome = found.stream().anyMatch(Interruption::byMachine)
                ? Outcome.FAIL
                : found.isEmpty() ? Outcome.PASS : Outcome.INCONCLUSIVE;
        String because = found.isEmpty()
                ? "The run went from its first stage to its last without a break."
                : found.stream()
                        .filter(f -> f.byMachine() == (outcome == Outcome.FAIL))
                        .findFirst()
                        .orElseThrow()
                        .text();
        return List.of(Finding.of(setting, "", outcome, because)
                .against(Limit.said("none"), "design of the criterion")
                .measured(Value.of(Amount.count(found.size())))
                .seen(found.stream().map(Interruption::evidence).toList())
                .told(tables(found)));
    }

    /** The first few in full; of the others one line each, and said to be no more than that. */
    private static List<Table> tables(List<Interruption> found) {
        List<Table> tables = new ArrayList<>();
        List<List<String>> lines = new ArrayList<>();
        long deaths = found.stream().filter(f -> !f.tables().isEmpty()).count();
        int told = 0;
        for (int i = 0; i < found.size(); i++) {
            Interruption f = found.get(i);
            String number = Integer.toString(i + 1);
            if (told == MOST_TOLD) {
                lines.add(List.of(number, when(f), f.causes().isEmpty() ? f.text() : f.causes()));
            } else if (!f.tables().isEmpty()) {
                told++;
                String title = deaths > 1 ? "Interruption " + number + ", " : "Interruption, ";
                f.tables().forEach(t -> tables.add(t.titled(title + t.title())));
            }
        }
        if (!lines.isEmpty()) {
            tables.add(new Table(
                    "Further interruptions, shortened to one line each: what came before them stands in the log",
                    List.of("No.", "Last sample before it", "Causes"),
                    lines));
        }
        return tables;
    }

    private static String when(Interruption f) {
        return f.at().map(at -> at.clock() + " of boot " + (at.segment() + 1) + " (" + at.place() + ")")
                .orElse("no sample; " + f.evidence().text() + " ("
                        + f.evidence().place() + ")");
    }

    /** Everything that ended the run or a stage before its time: restarts first, then the end, then the rest. */
    public static List<Interruption> found(Case run) {
        List<Interruption> found = new ArrayList<>();
        restarts(run, found);
        ending(run, found);
        whileRunning(run.scan(), found);
        return found;
    }

    private static void restarts(Case run, List<Interruption> found) {
        List<Segment> segments = run.scan().segments();
        boolean loop = endedBy(run.scan(), CloseReason.RESTART_LOOP);
        long fruitless = segments.stream().filter(s -> s.last() == null).count();
        for (int i = 1; i < segments.size(); i++) {
            Segment before = segments.get(i - 1);
            Segment after = segments.get(i);
            if (loop && before.last() == null && i > 1) {
                continue; // One of those of which the loop consists.
            }
            Death death = new Death(run, before, Optional.of(after));
            if (!askedToSwitchOff(run.scan(), before, after, death)) {
                found.add(death.interruption());
            }
        }
        if (loop) {
            Interruption first =
                    found.stream().filter(Interruption::byMachine).findFirst().orElse(null);
            At at = run.scan().closedAt().orElseThrow();
            String text = "Restart loop: it started " + Math.max(fruitless, 1) + (fruitless > 1 ? " times" : " time")
                    + " without living to its first sample"
                    + (first == null ? "." : ". Before that: " + lowerCase(first.text()));
            found.add(0, new Interruption(true, text, Evidence.of(at, "close, reason restart-loop"), Optional.of(at)));
        }
    }

    private static String lowerCase(String text) {
        return text.substring(0, 1).toLowerCase(Locale.ROOT) + text.substring(1);
    }

    /** A stage had asked for it, no load was on, another boot followed, and the agent saw that it was done. */
    private static boolean askedToSwitchOff(Scan scan, Segment before, Segment after, Death death) {
        return before.asked().filter(a -> asks(a, Ask.POWER_OFF)).isPresent()
                && !death.sameBoot()
                && !death.shownToBeTheMachines()
                && scan.events(EventKind.OPERATOR_DONE)
                        .anyMatch(e -> e.at().segment() == after.boot().at().segment() && asks(e, Ask.POWER_OFF));
    }

    private static boolean asks(NotedEvent event, Ask what) {
        return event.event().text("what").equals(what.word());
    }

    private static boolean endedBy(Scan scan, CloseReason reason) {
        return scan.close().filter(c -> c.reason().equals(reason.word())).isPresent();
    }

    private static void ending(Case run, List<Interruption> found) {
        Scan scan = run.scan();
        if (scan.close().isEmpty()) {
            found.add(brokenOff(run));
            return;
        }
        Close close = scan.close().get();
        Optional<CloseReason> reason = Word.find(CloseReason.class, close.reason());
        if (reason.filter(r -> r == CloseReason.COMPLETED || r == CloseReason.RESTART_LOOP)
                .isPresent()) {
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
        found.add(byOthers(text.endsWith(".") ? text : text + ".", at, "close, reason " + close.reason()));
    }

    private static Interruption byOthers(String text, At at, String seen) {
        return new Interruption(false, text, Evidence.of(at, seen), Optional.of(at));
    }

    /** A log without a close. */
    private static Interruption brokenOff(Case run) {
        List<Segment> segments = run.scan().segments();
        String cannotTell = " The machine shut off, hung, or the agent was killed: this log alone cannot tell which.";
        Segment last = segments.isEmpty() ? null : segments.get(segments.size() - 1);
        if (last == null || last.last() == null) {
            return new Interruption(
                    false,
                    "The log breaks off before its first sample." + cannotTell,
                    Evidence.named("end of file", "no close"),
                    Optional.empty());
        }
        Death death = new Death(run, last, Optional.empty());
        return new Interruption(
                false,
                "The log breaks off " + death.howItDied() + cannotTell,
                Evidence.of(last.last(), "last sample; no close follows"),
                Optional.of(last.last()),
                death.causes(),
                death.tables());
    }

    private static Interruption safetyStop(Scan scan, At at, String detail) {
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
        return new Interruption(
                byMachine,
                (text.endsWith(".") ? text : text + ".") + pointer,
                Evidence.of(stop.map(NotedEvent::at).orElse(at), "safety stop" + (why.isEmpty() ? "" : ", " + why)),
                Optional.of(stop.map(NotedEvent::at).orElse(at)));
    }

    private static void whileRunning(Scan scan, List<Interruption> found) {
        scan.events(EventKind.HANG)
                .forEach(e -> found.add(new Interruption(
                        true,
                        "The machine stood still for "
                                + Texts.duration(e.event().number("seconds")) + " at " + e.at().clock()
                                + ", and went on by itself.",
                        Evidence.of(e.at(), "hang without a restart"),
                        Optional.of(e.at()))));
        scan.events(EventKind.SUSPENDED)
                .filter(e -> !askedToSleep(scan, e.at()))
                .forEach(e -> found.add(byOthers(
                        "The machine slept for " + Texts.duration(e.event().number("seconds")) + " at " + e.at().clock()
                                + ".",
                        e.at(),
                        "suspended")));
    }

    /** Whether a stage had asked for it, and it was not yet seen to be done, or just now. */
    private static boolean askedToSleep(Scan scan, At at) {
        boolean asked = false;
        for (NotedEvent e : scan.events()) {
            if (e.at().segment() != at.segment() || isLater(e.at().place(), at.place())) {
                continue;
            }
            Optional<EventKind> kind = e.event().known();
            if (kind.filter(k -> k == EventKind.OPERATOR_ASKED).isPresent()) {
                asked = asks(e, Ask.SLEEP);
            } else if (kind.filter(k -> k == EventKind.LOAD_BEGIN || k == EventKind.STAGE_LEFT_OUT)
                            .isPresent()
                    || (kind.filter(k -> k == EventKind.OPERATOR_DONE).isPresent()
                            && at.seconds() - e.at().seconds() > TOGETHER_SECONDS)) {
                asked = false;
            }
        }
        return asked;
    }

    private static boolean isLater(Place one, Place other) {
        return one.part() > other.part() || (one.part() == other.part() && one.line() > other.line());
    }

    private static String sentence(String text) {
        return text.endsWith(".") ? text.substring(0, text.length() - 1) : text;
    }
}

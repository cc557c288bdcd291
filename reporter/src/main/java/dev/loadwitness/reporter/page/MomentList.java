// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import dev.loadwitness.reporter.page.Moment.Weight;
import dev.loadwitness.reporter.scan.Scan;
import dev.loadwitness.reporter.scan.Segment;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.NotedEvent;
import dev.loadwitness.reporter.scan.follow.Spell;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.reporter.scan.stage.ThrottleTally;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.ending.EndCause;
import dev.loadwitness.runlog.ending.Ending;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.EnumSet;
import java.util.List;
import java.util.Set;
import java.util.stream.Collectors;

/** Episodes and events of a run in the order in which they happened. */
final class MomentList {
    /** More cannot be read in a list, and each is an element of the page. */
    private static final int MOST = 2000;

    private static final Set<EventKind> FAULTS = EnumSet.of(
            EventKind.COMPUTE_ERROR,
            EventKind.MEMORY_ERROR,
            EventKind.WORKER_DIED,
            EventKind.WORKER_STALLED,
            EventKind.ADAPTER_OFF,
            EventKind.HANG,
            EventKind.SAFETY_STOP,
            EventKind.DEVICE_LOST,
            EventKind.DEVICE_LEFT,
            EventKind.DRIVER_RESET);
    private static final Set<EventKind> DETAILS = EnumSet.of(
            EventKind.STAGE_BEGIN,
            EventKind.STAGE_END,
            EventKind.LOAD_BEGIN,
            EventKind.LOAD_END,
            EventKind.LOAD_LEVEL,
            EventKind.LOAD_EDGES,
            EventKind.LOAD_TUNED,
            EventKind.DEVICE_PRESENT);

    private final List<Moment> found = new ArrayList<>();
    private long leftOut;

    static MomentList of(Scan scan) {
        MomentList moments = new MomentList();
        moments.endings(scan);
        moments.throttling(scan);
        moments.events(scan.events());
        moments.found.sort(Comparator.comparingInt(Moment::segment)
                .thenComparingDouble(Moment::from)
                .thenComparing(Moment::weight));
        moments.leftOut = scan.eventCount() - scan.events().size();
        moments.shorten();
        return moments;
    }

    List<Moment> list() {
        return List.copyOf(found);
    }

    boolean isUneventful() {
        return found.stream().allMatch(m -> m.weight() == Weight.DETAIL);
    }

    /** How many events are in the log and not in the list. */
    long leftOut() {
        return leftOut;
    }

    /** What matters least goes first. */
    private void shorten() {
        for (Weight weight : List.of(Weight.DETAIL, Weight.NOTICE, Weight.FAULT)) {
            for (int i = found.size() - 1; i >= 0 && found.size() > MOST; i--) {
                if (found.get(i).weight() == weight) {
                    found.remove(i);
                    leftOut++;
                }
            }
        }
    }

    private void endings(Scan scan) {
        for (int i = 0; i < scan.segments().size(); i++) {
            Segment segment = scan.segments().get(i);
            boolean goesOn = i + 1 < scan.segments().size();
            At last = segment.last();
            if (last != null && (goesOn || scan.close().isEmpty())) {
                found.add(new Moment(
                        Weight.FAULT,
                        last.segment(),
                        last.seconds(),
                        last.seconds(),
                        goesOn ? "Last sample before the interruption" : "Last sample: the log breaks off",
                        ""));
            }
            if (i > 0) {
                found.add(new Moment(
                        Weight.NOTICE,
                        segment.boot().at().segment(),
                        segment.boot().at().seconds(),
                        segment.boot().at().seconds(),
                        "The log goes on in boot " + (i + 1),
                        segment.evidence()
                                .map(e -> howItEnded(Ending.of(e.facts())))
                                .orElse("Nothing tells how the one before ended.")));
            }
            if (segment.gapAt() != null && segment.longestGapSeconds() > 5) {
                At to = segment.gapAt();
                found.add(new Moment(
                        Weight.NOTICE,
                        to.segment(),
                        Math.max(0, to.seconds() - segment.longestGapSeconds()),
                        to.seconds(),
                        "Longest time without a sample",
                        ""));
            }
        }
    }

    private static String howItEnded(Ending ending) {
        if (!ending.shown().isEmpty()) {
            return "How the one before ended is shown: " + words(ending.shown().keySet()) + ".";
        }
        return ending.open().isEmpty()
                ? "How the one before ended is not known: every cause is excluded."
                : "How the one before ended is not shown. Not excluded: "
                        + words(ending.open().keySet()) + ".";
    }

    private static String words(Set<EndCause> causes) {
        return causes.stream().map(c -> c.word().replace('-', ' ')).collect(Collectors.joining(", "));
    }

    /** The flag and the counter of one cause tell of the same episode: they are merged where they overlap. */
    private void throttling(Scan scan) {
        record Told(String part, Cause cause, Spell spell) {}
        List<Told> told = new ArrayList<>();
        for (StageTally stage : scan.stages()) {
            for (ThrottleTally tally : stage.throttles()) {
                tally.spells()
                        .forEach(spell ->
                                told.add(new Told(Names.role(tally.channel().role()), tally.cause(), spell)));
            }
        }
        told.sort(Comparator.comparing(Told::part)
                .thenComparing(Told::cause)
                .thenComparingInt(t -> t.spell.from().segment())
                .thenComparingDouble(t -> t.spell.from().seconds()));
        Told open = null;
        double end = 0;
        for (Told t : told) {
            boolean same = open != null
                    && open.part.equals(t.part)
                    && open.cause == t.cause
                    && open.spell.from().segment() == t.spell.from().segment()
                    && t.spell.from().seconds() <= end;
            if (same) {
                end = Math.max(end, t.spell.from().seconds() + t.spell.seconds());
                continue;
            }
            if (open != null) {
                throttled(open.part, open.cause, open.spell.from(), end);
            }
            open = t;
            end = t.spell.from().seconds() + t.spell.seconds();
        }
        if (open != null) {
            throttled(open.part, open.cause, open.spell.from(), end);
        }
    }

    private void throttled(String part, Cause cause, At from, double end) {
        found.add(new Moment(
                // The ordinary power limit is how a part is meant to run.
                cause == Cause.POWER_CAP ? Weight.DETAIL : Weight.FAULT,
                from.segment(),
                from.seconds(),
                end,
                part + " held back: " + cause.word().replace('-', ' '),
                ""));
    }

    private void events(List<NotedEvent> events) {
        List<NotedEvent> left = new ArrayList<>(events);
        for (int i = 0; i < left.size(); i++) {
            NotedEvent noted = left.get(i);
            Event event = noted.event();
            double to = noted.at().seconds();
            EventKind until =
                    switch (event.known().orElse(EventKind.OPERATOR_NOTE)) {
                        case ADAPTER_OFF -> EventKind.ADAPTER_ON;
                        case SOURCE_SILENT -> EventKind.SOURCE_BACK;
                        case STORAGE_LOW -> EventKind.STORAGE_BACK;
                        default -> null;
                    };
            for (int j = i + 1; until != null && j < left.size(); j++) {
                NotedEvent later = left.get(j);
                if (later.at().segment() == noted.at().segment()
                        && later.event().kind().equals(until.word())
                        && later.event().text("source").equals(event.text("source"))) {
                    to = later.at().seconds();
                    left.remove(j);
                    break;
                }
            }
            found.add(new Moment(
                    weight(event),
                    noted.at().segment(),
                    noted.at().seconds(),
                    to,
                    Names.capital(event.kind().replace('-', ' ')),
                    event.facts().entrySet().stream()
                            .map(f -> f.getKey() + " " + fact(f.getValue()))
                            .collect(Collectors.joining(", "))));
        }
    }

    private static String fact(Object value) {
        if (value instanceof Double number) {
            return Names.number(number);
        }
        return value instanceof Boolean yes ? (yes ? "yes" : "no") : value.toString();
    }

    private static Weight weight(Event event) {
        boolean planted = event.facts().get("planted") instanceof Boolean yes && yes;
        boolean caught = event.facts().get("caught") instanceof Boolean yes && yes;
        if (planted || caught) {
            return Weight.DETAIL;
        }
        return event.known()
                .map(kind ->
                        FAULTS.contains(kind) ? Weight.FAULT : DETAILS.contains(kind) ? Weight.DETAIL : Weight.NOTICE)
                .orElse(Weight.NOTICE);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.breakdown;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.finding.Amount;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.finding.Value;
import dev.loadwitness.reporter.scan.Segment;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.NotedEvent;
import dev.loadwitness.reporter.scan.machine.AwakeTally;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.Word;
import dev.loadwitness.runlog.procedure.Ask;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.ArrayList;
import java.util.EnumSet;
import java.util.HashSet;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.Set;
import org.jspecify.annotations.Nullable;

/**
 * What was there at the start is there throughout: input, storage, network and GPUs that the machine is built with. Others are
 * reported. What the procedure wants absent is absent, or asleep.
 */
public final class Devices implements Rule {
    private static final Set<Role> JUDGED =
            EnumSet.of(Role.INPUT, Role.STORAGE, Role.NETWORK, Role.GPU_DISCRETE, Role.GPU_INTEGRATED);

    /** Buses find their devices again within this time of waking (common practice, no source). */
    private static final double WAKING_SECONDS = 60;

    /** Fewer samples are those of a boot that only closes the log. */
    private static final long LEAST_SAMPLES = 10;

    private static final int MOST_EVIDENCE = 20;
    private static final String KEYBOARD = "keyboard";

    @Override
    public Criterion criterion() {
        return Criterion.DEVICES;
    }

    /** Something that was there at the start. */
    private record Part(Role role, String name, boolean removable) {}

    /** A part that left. */
    private static final class Departure {
        private final Part part;
        private final At at;
        private final boolean overRestart;
        private final boolean nearSleep;
        private @Nullable At back;

        Departure(Part part, At at, boolean overRestart, boolean nearSleep) {
            this.part = part;
            this.at = at;
            this.overRestart = overRestart;
            this.nearSleep = nearSleep;
        }

        /** Buses are searched anew after sleep: what comes back then has not dropped out. */
        boolean excused() {
            return nearSleep && back != null;
        }

        String text() {
            String when =
                    overRestart ? " was gone after the restart" : nearSleep ? " did not come back from sleep" : " left";
            return part.name + when + " at " + at.clock()
                    + (back == null ? " and stayed away" : " and came back at " + back.clock());
        }
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        Set<Role> unwanted = run.scan().procedure().absent();
        Limit limit = Limit.said("all there throughout"
                + (unwanted.isEmpty() ? "" : "; absent or asleep: " + String.join(", ", words(unwanted))));
        Map<String, Part> atStart = new LinkedHashMap<>();
        List<Departure> left = new ArrayList<>();
        List<Evidence> evidence = new ArrayList<>();
        Set<Integer> watched = new HashSet<>();
        follow(run, unwanted, atStart, left, evidence, watched);
        if (watched.isEmpty()) {
            return List.of(Finding.of(
                            setting, "", Outcome.NOT_MEASURED, "Nothing watched which devices are there in this run.")
                    .against(limit, "design of the criterion"));
        }
        List<String> failed = new ArrayList<>();
        List<String> open = new ArrayList<>();
        for (Departure d : left) {
            evidence.add(Evidence.of(d.at, d.text() + (d.excused() ? " around sleep: not counted" : "")));
            if (!d.excused()) {
                if (d.part.removable) {
                    open.add(Texts.sentenceCase(d.text())
                            + ": it can be pulled out by hand, or its port or cable is bad.");
                } else {
                    failed.add(Texts.sentenceCase(d.text()) + ": look at its connector, its cable and its supply.");
                }
            }
        }
        for (Role role : unwanted) {
            unwanted(run, role, failed, open);
        }
        missing(run, atStart, unwanted, open);
        for (int i = 0; i < run.scan().segments().size(); i++) {
            Segment segment = run.scan().segments().get(i);
            if (segment.samples() >= LEAST_SAMPLES && !watched.contains(i)) {
                open.add("Nothing watched the devices in boot " + (i + 1) + ".");
            }
        }
        Outcome outcome = !failed.isEmpty() ? Outcome.FAIL : !open.isEmpty() ? Outcome.INCONCLUSIVE : Outcome.PASS;
        String because = !failed.isEmpty()
                ? failed.get(0)
                : !open.isEmpty()
                        ? open.get(0)
                        : "Keyboard, storage, network and GPUs were there from the first look to the last.";
        return List.of(Finding.of(setting, "", outcome, because)
                .against(limit, "design of the criterion")
                .measured(new Value.Single(
                        Amount.count(left.stream().filter(d -> !d.excused()).count()), Value.Sign.MINUS, "", " left"))
                .seen(evidence.stream().limit(MOST_EVIDENCE).toList()));
    }

    private static List<String> words(Set<Role> roles) {
        return roles.stream().map(Word::word).toList();
    }

    private static void follow(
            Case run,
            Set<Role> unwanted,
            Map<String, Part> atStart,
            List<Departure> left,
            List<Evidence> evidence,
            Set<Integer> watched) {
        List<At> sleeps =
                run.scan().events(EventKind.SUSPENDED).map(NotedEvent::at).toList();
        Map<String, Departure> away = new LinkedHashMap<>();
        Set<String> seenInThisBoot = new HashSet<>();
        int firstBoot = -1;
        boolean askedToSleep = false;
        At lastPresent = null;
        for (NotedEvent noted : run.scan().events()) {
            Event event = noted.event();
            Optional<EventKind> kind = event.known();
            if (kind.isEmpty()) {
                continue;
            }
            if (lastPresent != null && kind.get() != EventKind.DEVICE_PRESENT) {
                afterRestart(atStart, seenInThisBoot, away, left, lastPresent);
                lastPresent = null;
            }
            String id = event.text("id");
            switch (kind.get()) {
                case DEVICE_PRESENT -> {
                    if (watched.add(noted.at().segment())) {
                        seenInThisBoot.clear();
                        firstBoot = firstBoot < 0 ? noted.at().segment() : firstBoot;
                    }
                    seenInThisBoot.add(id);
                    if (noted.at().segment() == firstBoot) {
                        part(event, unwanted).ifPresent(p -> atStart.put(id, p));
                    } else {
                        lastPresent = noted.at();
                        Departure back = away.remove(id);
                        if (back != null) {
                            back.back = noted.at();
                        }
                    }
                }
                case DEVICE_LEFT -> {
                    Part part = atStart.get(id);
                    if (part == null) {
                        evidence.add(Evidence.of(noted.at(), event.text("device") + " left: not judged"));
                    } else {
                        Departure d = new Departure(part, noted.at(), false, askedToSleep || near(sleeps, noted.at()));
                        away.put(id, d);
                        left.add(d);
                    }
                }
                case DEVICE_ARRIVED -> {
                    Departure back = away.remove(id);
                    if (back == null) {
                        evidence.add(Evidence.of(noted.at(), event.text("device") + " came"));
                    } else {
                        back.back = noted.at();
                    }
                }
                case OPERATOR_ASKED -> askedToSleep |= event.text("what").equals(Ask.SLEEP.word());
                case OPERATOR_DONE, STAGE_BEGIN -> askedToSleep = false;
                default -> {
                    // Nothing about devices.
                }
            }
        }
        if (lastPresent != null) {
            afterRestart(atStart, seenInThisBoot, away, left, lastPresent);
        }
    }

    private static void afterRestart(
            Map<String, Part> atStart, Set<String> seen, Map<String, Departure> away, List<Departure> left, At at) {
        atStart.forEach((id, part) -> {
            if (!seen.contains(id) && !away.containsKey(id)) {
                Departure d = new Departure(part, at, true, false);
                away.put(id, d);
                left.add(d);
            }
        });
    }

    /** Empty for what is not judged: other roles, what must be absent, and the stick with the log. */
    private static Optional<Part> part(Event event, Set<Role> unwanted) {
        return Word.find(Role.class, event.text("role"))
                .filter(JUDGED::contains)
                .filter(role -> !unwanted.contains(role))
                .filter(role -> !Boolean.TRUE.equals(event.facts().get("witness")))
                .map(role -> new Part(
                        role,
                        event.text("device"),
                        Boolean.TRUE.equals(event.facts().get("removable"))));
    }

    private static boolean near(List<At> sleeps, At at) {
        return sleeps.stream()
                .anyMatch(s -> s.segment() == at.segment() && Math.abs(s.seconds() - at.seconds()) <= WAKING_SECONDS);
    }

    private static void unwanted(Case run, Role role, List<String> failed, List<String> open) {
        Optional<NotedEvent> there = run.scan().events().stream()
                .filter(e -> e.event().kind().equals(EventKind.DEVICE_PRESENT.word())
                        || e.event().kind().equals(EventKind.DEVICE_ARRIVED.word()))
                .filter(e -> e.event().text("role").equals(role.word()))
                .findFirst();
        Optional<AwakeTally> sleep = run.scan().awake().stream()
                .filter(a -> a.role() == role && a.readings() > 0)
                .findFirst();
        if (sleep.isPresent() && sleep.get().firstAwake() != null) {
            failed.add(Texts.sentenceCase(Texts.part(role)) + " must be absent or asleep and was awake at "
                    + sleep.get().firstAwake().clock() + ".");
        } else if (there.isPresent()
                && (sleep.isEmpty() || sleep.get().unread() > sleep.get().readings() / 100)) {
            open.add(Texts.sentenceCase(Texts.part(role)) + " must be absent or asleep; it is there ("
                    + there.get().event().text("device")
                    + "), and the system does not tell whether it slept throughout.");
        }
    }

    /** What every laptop has, and a run of this procedure needs. */
    private static void missing(Case run, Map<String, Part> atStart, Set<Role> unwanted, List<String> open) {
        if (atStart.values().stream().noneMatch(p -> p.role == Role.INPUT && p.name.startsWith(KEYBOARD))) {
            open.add(none("keyboard"));
        }
        if (atStart.values().stream().noneMatch(p -> p.role == Role.STORAGE && !p.removable)) {
            open.add(none("built-in storage"));
        }
        if (atStart.values().stream().noneMatch(p -> p.role == Role.NETWORK)) {
            open.add(none("wireless or other network"));
        }
        boolean needsGpu = run.scan().procedure().requiredDevices().contains(Role.GPU_DISCRETE);
        if (needsGpu
                && !unwanted.contains(Role.GPU_DISCRETE)
                && atStart.values().stream().noneMatch(p -> p.role == Role.GPU_DISCRETE)) {
            open.add(none("discrete GPU"));
        }
    }

    private static String none(String what) {
        return "No " + what + " was there when the watch began: it is not connected, dead, or not fitted.";
    }
}

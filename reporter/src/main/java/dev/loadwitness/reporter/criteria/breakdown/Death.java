// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.breakdown;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Table;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.scan.Segment;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.reporter.scan.stage.StepTally;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.ending.EndCause;
import dev.loadwitness.runlog.ending.Ending;
import java.time.temporal.ChronoUnit;
import java.util.ArrayList;
import java.util.LinkedHashSet;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Optional;
import java.util.Set;
import java.util.stream.Collectors;

/** The end of one boot of the run: by whom, when, and what it looked like, in words and tables. */
final class Death {
    private final Case run;
    private final Segment before;
    private final Optional<Segment> after;
    private final Optional<Ending> ending;
    private final Optional<StageTally> stage;
    private final FinalMinute minute;

    /** @param after the next boot of the run; empty if the log breaks off */
    Death(Case run, Segment before, Optional<Segment> after) {
        this.run = run;
        this.before = before;
        this.after = after;
        this.ending = after.flatMap(Segment::evidence).map(e -> Ending.of(e.facts()));
        this.stage = before.last() == null
                ? Optional.empty()
                : run.scan().stages().stream()
                        .filter(s -> s.begin().segment() == before.last().segment()
                                && s.why().equals("interrupted"))
                        .reduce((a, b) -> b);
        this.minute =
                new FinalMinute(before.boot().at().segment(), before.lastMoments(), stage.flatMap(StageTally::part));
    }

    /** Whether the next segment is of the same boot: then the machine never ended. */
    boolean sameBoot() {
        return after.filter(a -> !a.boot().bootId().isEmpty()
                        && a.boot().bootId().equals(before.boot().bootId()))
                .isPresent();
    }

    /** With whom it lies; without evidence, with the machine if the boot is another one. */
    EndCause.By by() {
        if (sameBoot()) {
            return EndCause.By.WITNESS;
        }
        return ending.flatMap(Ending::by).orElse(EndCause.By.MACHINE);
    }

    /** Whether evidence speaks for a cause that lies with the machine. */
    boolean shownToBeTheMachines() {
        return ending.filter(e -> e.shown().keySet().stream().anyMatch(c -> c.by() == EndCause.By.MACHINE))
                .isPresent();
    }

    Interruption interruption() {
        Segment next = after.orElseThrow();
        String seen = sameBoot()
                ? "agent started again in the same boot"
                : "next boot"
                        + (next.boot().utcTrusted() ? ", " + next.boot().utc().truncatedTo(ChronoUnit.SECONDS) : "")
                        + (ending.isPresent() ? "" : "; no evidence of how the last one ended");
        return new Interruption(
                by() == EndCause.By.MACHINE,
                text(),
                Evidence.of(next.place(), seen),
                Optional.ofNullable(before.last()),
                causes(),
                tables());
    }

    private String text() {
        if (sameBoot() && ending.filter(e -> !e.shown().isEmpty()).isEmpty()) {
            return "The agent was stopped and started again in the same boot: not the machine.";
        }
        String head = head();
        return by() == EndCause.By.MACHINE
                ? head + " " + howItDied() + notExcluded()
                : head + " " + when() + ": not the machine's own doing.";
    }

    /** What looks just like a loss of power and is not excluded; nothing where the evidence shows a cause. */
    private String notExcluded() {
        if (ending.isEmpty() || !ending.get().shown().isEmpty()) {
            return "";
        }
        Set<String> others = new LinkedHashSet<>();
        for (EndCause cause : ending.get().open().keySet()) {
            switch (cause) {
                case HARD_HANG -> others.add("a hang");
                case FIRMWARE_RESET, WATCHDOG_RESET -> others.add("a reset");
                case KERNEL_CRASH -> others.add("a kernel crash");
                case THERMAL_TRIP -> others.add("heat");
                case POWER_BUTTON_HELD -> others.add("the power button");
                default -> {
                    // The sentence says loss of power; orderly ends and the agent's own are told elsewhere.
                }
            }
        }
        return others.isEmpty() ? "" : " Not excluded: " + String.join(", ", others) + ".";
    }

    private String head() {
        Optional<EndCause> shown =
                ending.flatMap(e -> e.shown().keySet().stream().findFirst());
        Optional<EndCause> left = ending.filter(e -> by() != EndCause.By.MACHINE)
                .flatMap(e -> e.open().keySet().stream().findFirst());
        Optional<EndCause> cause = shown.isPresent() ? shown : left;
        if (cause.isEmpty()) {
            return "Shut off";
        }
        return switch (cause.get()) {
            case POWER_LOSS -> "Lost its power";
            case HARD_HANG -> "Hung for good";
            case FIRMWARE_RESET -> "Was reset by firmware or chipset";
            case WATCHDOG_RESET -> "Was reset by a watchdog";
            case KERNEL_CRASH -> "The kernel crashed";
            case THERMAL_TRIP -> "Switched itself off for heat";
            case POWER_BUTTON_HELD -> "Was switched off by its power button";
            case ORDERLY_SHUTDOWN -> "Was shut down in order";
            case ORDERLY_RESTART -> "Was restarted in order";
            case AGENT_KILLED -> "The agent was killed";
            case AGENT_CRASHED -> "The agent crashed";
        };
    }

    /** When, in which stage, and what the last minute points to. */
    String howItDied() {
        if (before.last() == null) {
            return "before its first sample.";
        }
        StringBuilder text = new StringBuilder(when());
        text.append(minute.words(possible(EndCause.POWER_LOSS, EndCause.FIRMWARE_RESET), !excludesHeat()));
        text.append('.');
        Set<String> faults = new LinkedHashSet<>();
        before.lastEvents().stream()
                .filter(e -> e.event().kind().equals(EventKind.KERNEL_MESSAGE.word()))
                .map(e -> e.event().text("fault"))
                .filter(f -> !f.isEmpty())
                .forEach(faults::add);
        if (!faults.isEmpty()) {
            text.append(" In the last minute the kernel told of ")
                    .append(String.join(", ", faults))
                    .append('.');
        }
        return text.toString();
    }

    /** Whether one of the causes is shown, or none is shown and one of them is open; without evidence, always. */
    private boolean possible(EndCause... causes) {
        if (ending.isEmpty()) {
            return true;
        }
        Map<EndCause, String> left = ending.get().shown().isEmpty()
                ? ending.get().open()
                : ending.get().shown();
        return Set.of(causes).stream().anyMatch(left::containsKey);
    }

    private boolean excludesHeat() {
        return !possible(EndCause.THERMAL_TRIP, EndCause.POWER_LOSS, EndCause.FIRMWARE_RESET, EndCause.HARD_HANG);
    }

    private String when() {
        if (before.last() == null) {
            return "before its first sample";
        }
        return "after " + Texts.duration(before.last().seconds())
                + stage.map(s -> ", " + Texts.duration(s.seconds()) + " into stage "
                                + s.stage().id())
                        .orElse("");
    }

    /** {@code shown: kernel-crash}, or every cause that nothing excludes. */
    String causes() {
        if (sameBoot() && ending.filter(e -> !e.shown().isEmpty()).isEmpty()) {
            return "agent started again in the same boot";
        }
        if (ending.isEmpty()) {
            return "no evidence of how it ended: nothing is excluded";
        }
        Ending e = ending.get();
        return e.shown().isEmpty() ? "not excluded: " + words(e.open()) : "shown: " + words(e.shown());
    }

    private static String words(Map<EndCause, String> causes) {
        return causes.isEmpty()
                ? "none"
                : causes.keySet().stream().map(EndCause::word).collect(Collectors.joining(", "));
    }

    List<Table> tables() {
        List<Table> tables = new ArrayList<>();
        ending.ifPresent(e -> tables.add(causes(e)));
        if (before.last() != null) {
            tables.add(circumstances(before.last()));
            minute.table(run.scan().stages()).ifPresent(tables::add);
        }
        return tables;
    }

    private static Table causes(Ending ending) {
        List<List<String>> rows = new ArrayList<>();
        ending.shown().forEach((cause, why) -> rows.add(List.of(cause.word(), "shown", why)));
        ending.open().forEach((cause, why) -> rows.add(List.of(cause.word(), "not excluded", why)));
        ending.excluded().forEach((cause, why) -> rows.add(List.of(cause.word(), "excluded", why)));
        return new Table("causes", List.of("Cause", "Standing", "Evidence"), rows);
    }

    private Table circumstances(At last) {
        List<List<String>> rows = new ArrayList<>();
        rows.add(List.of("time", new TimeOfDeath(before, after, sameBoot()).words()));
        double age = run.scan()
                        .procedure()
                        .samplingPeriod()
                        .plus(run.scan().header().undurable())
                        .toNanos()
                / 1e9;
        rows.add(List.of(
                "position",
                "after " + clock(last.seconds()) + " of boot " + (last.segment() + 1) + " (" + last.place()
                        + ", the last sample); the next was due on the disk by " + clock(last.seconds() + age)));
        rows.add(List.of(
                "stage",
                stage.map(s -> s.stage().id() + ", " + Texts.duration(s.seconds()) + " after its begin")
                        .orElse("none")));
        stage.flatMap(Death::load).ifPresent(load -> rows.add(List.of("load", load)));
        rows.add(List.of("trend", minute.trendWords()));
        minute.lastSeconds().ifPresent(moved -> rows.add(List.of("at the end", moved)));
        before.lastEvents().stream()
                .filter(e -> e.event().kind().equals(EventKind.KERNEL_MESSAGE.word()))
                .forEach(e -> rows.add(List.of(
                        "kernel",
                        clock(e.at().seconds()) + " "
                                + (e.event().text("fault").isEmpty()
                                        ? "message"
                                        : e.event().text("fault"))
                                + " (" + e.at().place() + ")")));
        return new Table("circumstances", List.of("What", "Value"), rows);
    }

    /** What the load was told last, where it comes and goes or rises in steps. */
    private static Optional<String> load(StageTally stage) {
        Optional<StepTally.Edges> edges = stage.steps().last();
        if (edges.isPresent()) {
            StepTally.Edges e = edges.get();
            return Optional.of("in load steps, on and off every " + Texts.duration(e.periodSeconds()) + ", "
                    + Texts.percent(e.duty()) + " of it on; last told at " + clock(e.at().seconds())
                    + ", just switched "
                    + (e.on() ? "on" : "off"));
        }
        List<StepTally.Level> levels = stage.steps().levels();
        return levels.isEmpty()
                ? Optional.empty()
                : Optional.of(
                        "at " + Texts.percent(levels.get(levels.size() - 1).level()) + " of full load since "
                                + clock(levels.get(levels.size() - 1).at().seconds()));
    }

    /** {@code 21:47.3}. Rounded down. */
    static String clock(double seconds) {
        long tenths = (long) Math.floor(seconds * 10 + 1e-6);
        return tenths >= 36_000
                ? String.format(
                        Locale.ROOT,
                        "%d:%02d:%02d.%d",
                        tenths / 36_000,
                        tenths / 600 % 60,
                        tenths / 10 % 60,
                        tenths % 10)
                : String.format(Locale.ROOT, "%d:%02d.%d", tenths / 600, tenths / 10 % 60, tenths % 10);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.verdict;

import static dev.loadwitness.runlog.procedure.Parameters.SoakDuration.POWER_SHARE;

import dev.loadwitness.reporter.criteria.Criteria;
import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.work.QualifiedTime;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.Scan;
import dev.loadwitness.reporter.scan.ScanOptions;
import dev.loadwitness.reporter.scan.Scanning;
import dev.loadwitness.runlog.EarlierAttempt;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.file.read.ReadSummary;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.io.IOException;
import java.nio.file.Path;
import java.time.Instant;
import java.util.ArrayList;
import java.util.HashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.stream.Collectors;

/**
 * Every attempt on a ticket together: retesting until it passes is the commonest way to fool oneself.
 *
 * @param qualifiedSeconds of the part that the judged run proves longest, over all attempts shown
 * @param failures how often the machine itself ended an attempt, or a boot of it
 * @param openEnds how many attempts end in the middle, with nothing that says why
 * @param counted how many attempts that is
 * @param allShown false if a log of an earlier attempt was not given, or is not the one the header names
 * @param read what reading each log that was given showed, in the order in which they were given
 */
record Attempts(
        List<Verdict.Attempt> list,
        List<String> notes,
        double qualifiedSeconds,
        int failures,
        int openEnds,
        int counted,
        boolean allShown,
        List<ReadSummary> read) {
    static Attempts of(Case judged, List<Path> earlierLogs) throws IOException {
        Map<String, Given> given = new HashMap<>();
        List<ReadSummary> read = new ArrayList<>();
        for (Path log : earlierLogs) {
            // One after the other: of each, only what it comes to is kept.
            Scan scan = Scanning.of(log, new ScanOptions(Optional.empty(), false));
            Told told = tell(new Case(scan, judged.judgedBy(), judged.jobSheet()));
            given.put(
                    scan.header().runId(),
                    new Given(told, scan.header().utc(), scan.read().lastChain()));
            read.add(scan.read());
        }
        List<Verdict.Attempt> list = new ArrayList<>();
        List<String> notes = new ArrayList<>();
        List<Told> counted = new ArrayList<>();
        List<Integer> before = new ArrayList<>();
        Optional<LastWork> work = judged.jobSheet().map(JobSheet::workDone).flatMap(LastWork::of);
        boolean allShown = true;
        List<EarlierAttempt> named = judged.scan().header().earlier();
        for (EarlierAttempt earlier : named) {
            int number = list.size() + 1;
            Given scan = given.remove(earlier.runId());
            if (scan == null) {
                allShown = false;
                list.add(new Verdict.Attempt(
                        number, earlier.runId(), "the journal saw it end: " + earlier.end(), false));
                notes.add("Attempt " + number + " on this ticket (run " + earlier.runId()
                        + ") is not counted, because its log was not given.");
                continue;
            }
            // The journal may be up to a minute older than the log: then its chain value stands inside the log.
            if (!earlier.end().equals("open") && !scan.lastChain.equals(earlier.lastChain())) {
                allShown = false;
                notes.add("The log given for attempt " + number + " (run " + earlier.runId()
                        + ") does not end as the journal saw it end: it was cut or exchanged.");
            }
            if (work.filter(w -> w.isAfter(scan.begun)).isPresent()) {
                before.add(number);
            } else {
                counted.add(scan.told);
            }
            list.add(new Verdict.Attempt(number, earlier.runId(), scan.told.summary, true));
        }
        for (String stranger : given.keySet().stream().sorted().toList()) {
            notes.add(
                    "The log of run " + stranger + " was given as an earlier attempt, but this run does not name it.");
        }
        Told told = tell(judged);
        if (work.filter(w -> w.isAfter(judged.scan().header().utc())).isPresent()) {
            before.add(list.size() + 1);
        } else {
            counted.add(told);
        }
        list.add(new Verdict.Attempt(list.size() + 1, judged.scan().header().runId(), told.summary, true));
        if (!named.isEmpty()) {
            notes.add("This is attempt " + list.size() + " of " + list.size() + " known on ticket "
                    + judged.scan().header().ticket() + ".");
        }
        if (!before.isEmpty()) {
            notes.add((before.size() == 1 ? "Attempt " : "Attempts ")
                    + before.stream().map(String::valueOf).collect(Collectors.joining(", "))
                    + " began before the last work on the machine ("
                    + work.orElseThrow().written()
                    + " on the job sheet): listed, and not counted in what is demonstrated.");
        }
        return new Attempts(
                list,
                notes,
                counted.stream().mapToDouble(Told::seconds).sum(),
                counted.stream().mapToInt(Told::failures).sum(),
                counted.stream().mapToInt(Told::openEnds).sum(),
                counted.size(),
                allShown,
                read);
    }

    /** What counts of a log that was given. */
    private record Given(Told told, Instant begun, String lastChain) {}

    private record Told(double seconds, int failures, int openEnds, String summary) {}

    private static Told tell(Case run) {
        if (!run.scan().read().whole()) {
            return new Told(0, 0, 0, "log damaged; counts for nothing");
        }
        double share = run.judgedBy().settingOrDefaults(Criterion.SOAK_DURATION).share(POWER_SHARE);
        double seconds = mainPart(run)
                .map(part -> QualifiedTime.of(part, run, share).totalSeconds())
                .orElse(0.0);
        Finding interruptions = Criteria.judge(new CriterionSetting(Criterion.INTERRUPTIONS, true, Map.of()), run)
                .get(0);
        int failures = interruptions.outcome() == Outcome.FAIL ? Criteria.endsByTheMachine(run) : 0;
        int openEnds = run.scan().close().isEmpty() ? 1 : 0;
        String end = interruptions.outcome() == Outcome.PASS
                ? "ran to its end"
                : interruptions.because().substring(0, 1).toLowerCase(java.util.Locale.ROOT)
                        + interruptions.because().substring(1);
        return new Told(seconds, failures, openEnds, Demonstrated.hours(seconds) + " under full load; " + end);
    }

    /** The part that the run proves for the longest time. */
    private static Optional<Role> mainPart(Case run) {
        Role main = null;
        double longest = -1;
        for (Role part : run.scan().procedure().provedParts()) {
            double seconds = run.scan().procedure().stages().stream()
                    .filter(s -> s.proves().filter(part::equals).isPresent())
                    .mapToDouble(s -> s.duration().toMillis())
                    .sum();
            if (seconds > longest) {
                longest = seconds;
                main = part;
            }
        }
        return Optional.ofNullable(main);
    }
}

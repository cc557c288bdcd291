// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.Scan;
import dev.loadwitness.reporter.scan.Segment;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import java.util.List;
import java.util.Optional;
import java.util.stream.Collectors;
import java.util.stream.Stream;

/**
 * Everything that the page shows of one run.
 *
 * @param index which it is of those on the page, from 0
 * @param alone whether it is the only one
 */
record ReviewedRun(Judgement judgement, Readings readings, MomentList moments, int index, boolean alone) {
    /** The page opens on this long before an interruption. */
    static final double LAST_SECONDS = 60;

    Verdict verdict() {
        return judgement.verdict();
    }

    Scan scan() {
        return judgement.scan();
    }

    Outcome outcome() {
        return Names.ofRun(verdict().outcome());
    }

    /** {@code A} and {@code B} where there are two; nothing where there is one. */
    String letter() {
        return alone ? "" : index == 0 ? "A" : "B";
    }

    String of() {
        return alone ? "" : ", run " + letter();
    }

    Stream<String> stages() {
        return scan().stages().stream().map(s -> s.stage().id());
    }

    List<Fact> facts() {
        Verdict verdict = verdict();
        return Fact.said(
                new Fact("Ticket", verdict.header().ticket()),
                new Fact("Machine", machine(verdict)),
                new Fact(
                        "Tested",
                        scan().stages().stream()
                                .map(s -> s.stage().id() + " " + Names.duration(s.seconds()))
                                .collect(Collectors.joining(", "))),
                new Fact(
                        "Procedure",
                        verdict.procedure().name() + (verdict.ownProcedure() ? "" : " (not the run's own)")),
                new Fact("Began", Names.utc(verdict.header().utc())),
                new Fact(
                        "Room",
                        verdict.header().ambientCelsius().isPresent()
                                ? Names.number(verdict.header().ambientCelsius().getAsDouble()) + " °C"
                                : "not taken"),
                new Fact("Run", verdict.header().runId()));
    }

    private static String machine(Verdict verdict) {
        Optional<JobSheet.Machine> sheet = verdict.jobSheet().map(JobSheet::machine);
        String told = sheet.map(m -> Stream.of(m.make(), m.model()))
                .orElseGet(Stream::of)
                .filter(s -> !s.isBlank())
                .collect(Collectors.joining(" "));
        return told.isEmpty()
                ? Stream.of(
                                verdict.header().fact("machine", "make"),
                                verdict.header().fact("machine", "model"))
                        .filter(s -> !s.isBlank())
                        .collect(Collectors.joining(" "))
                : told;
    }

    List<String> notes() {
        Verdict verdict = verdict();
        return Stream.of(
                        verdict.demonstrated().stream(),
                        verdict.notes().stream(),
                        verdict.attempts().stream().map(a -> "Attempt " + a.number() + ": " + a.summary()))
                .flatMap(s -> s)
                .toList();
    }

    List<Fact> digests() {
        return Stream.concat(
                        verdict().logSha256().stream().map(d -> new Fact("SHA-256 of the log", d)),
                        Stream.of(new Fact("Last chain value", verdict().lastChain())))
                .filter(f -> !f.value().isBlank())
                .toList();
    }

    /** Where the run was cut short: the last sample of the first segment that ended without being told to. */
    Optional<At> cutShort() {
        for (int i = 0; i < scan().segments().size(); i++) {
            Segment segment = scan().segments().get(i);
            boolean goesOn = i + 1 < scan().segments().size();
            if (segment.last() != null && (goesOn || scan().close().isEmpty())) {
                return Optional.of(segment.last());
            }
        }
        boolean whole = scan().close()
                .map(c -> c.reason().equals(CloseReason.COMPLETED.word()))
                .orElse(false);
        return whole || scan().segments().isEmpty()
                ? Optional.empty()
                : Optional.ofNullable(
                        scan().segments().get(scan().segments().size() - 1).last());
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.Procedure;
import java.io.IOException;
import java.io.PrintStream;
import java.io.UncheckedIOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Instant;
import java.util.EnumMap;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Optional;
import java.util.TreeMap;
import java.util.stream.IntStream;
import java.util.stream.Stream;

/**
 * How often the shipped procedures are wrong about simulated machines: good ones that do not pass, faulty ones that do.
 * Every criterion must pass, so each adds its own false failures. By hand, for docs/computation.md; takes an hour or so:
 *
 * <pre>{@code mvn -q -pl runlog,reporter test-compile
 * java -cp <test class path> dev.loadwitness.reporter.simulation.ErrorRates thresholds 200 1 [folder for logs]}</pre>
 */
final class ErrorRates {
    private static final double CONFIDENCE = 0.95;

    /** With the repaired rail as one that its controller sets, without which it has nothing to be judged by. */
    private static final Attachment SHEET = Attachment.of(
            SamplePapers.JOB_SHEET.name(),
            SamplePapers.JOB_SHEET
                    .text()
                    .replace("- name: graphics core\n", "- name: graphics core\n    kind: controlled\n"));

    private ErrorRates() {}

    /** What came out of many runs. */
    static final class Tally {
        private final Map<Criterion, Map<Outcome, Integer>> byCriterion = new TreeMap<>();
        private final Map<Outcome, Integer> verdicts = new EnumMap<>(Outcome.class);
        private final Map<String, Integer> sentences = new TreeMap<>();
        private final Map<Criterion, Boolean> mandatory = new TreeMap<>();
        private int runs;

        synchronized void add(Verdict verdict) {
            runs++;
            verdicts.merge(verdict.outcome(), 1, Integer::sum);
            // A criterion that judges several parts counts once, with the worst that it came to.
            Map<Criterion, Outcome> worst = new EnumMap<>(Criterion.class);
            for (Finding finding : verdict.findings()) {
                mandatory.put(finding.criterion(), finding.mandatory());
                worst.merge(finding.criterion(), finding.outcome(), Tally::worse);
                if (finding.outcome() != Outcome.PASS) {
                    sentences.merge(finding.criterion().word() + ": " + finding.because(), 1, Integer::sum);
                }
            }
            worst.forEach((criterion, outcome) -> byCriterion
                    .computeIfAbsent(criterion, c -> new EnumMap<>(Outcome.class))
                    .merge(outcome, 1, Integer::sum));
        }

        private static Outcome worse(Outcome one, Outcome other) {
            List<Outcome> worstFirst = List.of(
                    Outcome.FAIL, Outcome.INCONCLUSIVE, Outcome.NOT_MEASURED, Outcome.PASS, Outcome.NOT_APPLICABLE);
            return worstFirst.indexOf(one) <= worstFirst.indexOf(other) ? one : other;
        }

        int runs() {
            return runs;
        }

        int verdicts(Outcome outcome) {
            return verdicts.getOrDefault(outcome, 0);
        }

        int of(Criterion criterion, Outcome outcome) {
            return byCriterion.getOrDefault(criterion, Map.of()).getOrDefault(outcome, 0);
        }
    }

    /** Good machines, each with another seed, through one procedure as it is shipped. */
    static Tally goodMachines(Attachment text, int runs, long firstSeed, Path folder) {
        Procedure procedure = SamplePapers.read(text).forRail("graphics core");
        // Where charging must be seen, the technician begins with a battery that wants it.
        boolean low =
                procedure.setting(Criterion.CHARGING).filter(s -> s.mandatory()).isPresent();
        Tally tally = new Tally();
        seeds(runs, firstSeed).forEach(seed -> {
            Specimen specimen = Specimen.good(seed, low ? 0.55 : 0.6, low ? 0.75 : 0.94);
            tally.add(judged(
                    new Simulation(
                            Scenario.CLEAN_PASS,
                            procedure,
                            text,
                            Optional.of(SHEET),
                            List.of(),
                            Instant.parse("2026-11-24T09:12:40Z"),
                            specimen),
                    folder.resolve(procedure.name() + "-" + seed)));
        });
        return tally;
    }

    /** Machines of the same spread, each with the scenario's fault, through the scenario's own short procedure. */
    static Tally faultyMachines(Scenario scenario, int runs, long firstSeed, Path folder) {
        Tally tally = new Tally();
        seeds(runs, firstSeed)
                .forEach(seed -> tally.add(judged(
                        Simulation.of(scenario).on(Specimen.good(seed, 0.6, 0.94)),
                        folder.resolve(scenario.word() + "-" + seed))));
        return tally;
    }

    private static Stream<Long> seeds(int runs, long first) {
        return IntStream.range(0, runs).mapToObj(i -> first + i).parallel();
    }

    private static Verdict judged(Simulation simulation, Path folder) {
        try {
            Files.createDirectories(folder);
            SimulatedLog.write(simulation, folder, "run");
            Verdict verdict =
                    Judge.judge(Judge.Request.of(folder.resolve("run.jsonl"))).verdict();
            try (Stream<Path> files = Files.list(folder)) {
                for (Path file : files.toList()) {
                    Files.delete(file);
                }
            }
            Files.delete(folder);
            return verdict;
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    public static void main(String[] args) throws IOException {
        Locale.setDefault(Locale.ROOT);
        PrintStream out = new PrintStream(System.out, true, StandardCharsets.UTF_8);
        Path procedures = Path.of(args[0]);
        int runs = Integer.parseInt(args[1]);
        long firstSeed = Long.parseLong(args[2]);
        Path folder = args.length > 3
                ? Files.createTempDirectory(Path.of(args[3]), "error-rates")
                : Files.createTempDirectory("error-rates");
        String only = args.length > 4 ? args[4] : "";
        List<Path> files;
        try (Stream<Path> listed = Files.list(procedures)) {
            files = listed.filter(p -> p.getFileName().toString().contains(only))
                    .sorted()
                    .toList();
        }
        for (Path file : files) {
            Attachment text = Attachment.of(file.getFileName().toString(), Files.readString(file));
            long begin = System.nanoTime();
            Tally tally = goodMachines(text, runs, firstSeed, folder);
            out.println("\n### " + text.name() + ": good machines, seeds " + firstSeed + " to " + (firstSeed + runs - 1)
                    + " (" + (System.nanoTime() - begin) / 1_000_000_000 + " s)\n");
            table(tally, out);
        }
        if (only.isEmpty() || only.equals("faults")) {
            out.println(
                    "\n### planted faults\n\n| fault | runs | fail | inconclusive | passed |\n|---|---|---|---|---|");
            for (Scenario scenario : Scenario.values()) {
                if (scenario.expected().equals("pass")) {
                    continue;
                }
                Tally tally = faultyMachines(scenario, Math.max(20, runs / 10), firstSeed, folder);
                out.println("| " + scenario.word() + " | " + tally.runs() + " | " + tally.verdicts(Outcome.FAIL) + " | "
                        + tally.verdicts(Outcome.INCONCLUSIVE) + " | " + tally.verdicts(Outcome.PASS) + " |");
            }
        }
        Files.delete(folder);
    }

    private static void table(Tally tally, PrintStream out) {
        out.println("| criterion | decides | false fail | inconclusive | not measured | fail at most |");
        out.println("|---|---|---|---|---|---|");
        tally.byCriterion.forEach((criterion, outcomes) -> row(
                "`" + criterion.word() + "`",
                tally.mandatory.get(criterion) ? "yes" : "no",
                outcomes,
                tally.runs,
                out));
        row("verdict", "", tally.verdicts, tally.runs, out);
        out.println();
        tally.sentences.forEach((text, count) -> out.println(count + " x " + text));
    }

    private static void row(String name, String decides, Map<Outcome, Integer> outcomes, int runs, PrintStream out) {
        int failed = outcomes.getOrDefault(Outcome.FAIL, 0);
        out.println("| " + name + " | " + decides + " | " + failed + " | "
                + outcomes.getOrDefault(Outcome.INCONCLUSIVE, 0) + " | "
                + outcomes.getOrDefault(Outcome.NOT_MEASURED, 0) + " | "
                + String.format(Locale.ROOT, "%.1f %%", 100 * upperBound(failed, runs)) + " |");
    }

    /** One-sided upper bound on a share by Clopper and Pearson, {@code BetaInv(0.95; k+1, n−k)}. */
    static double upperBound(int failed, int runs) {
        return failed == runs
                ? 1
                : new org.apache.commons.math3.distribution.BetaDistribution(null, failed + 1.0, runs - failed)
                        .inverseCumulativeProbability(CONFIDENCE);
    }
}

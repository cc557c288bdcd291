// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.comparison;

import dev.loadwitness.reporter.criteria.Figure;
import dev.loadwitness.reporter.criteria.MachineIdentity;
import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.scan.Scan;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.procedure.Stage;
import java.math.BigDecimal;
import java.math.RoundingMode;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;

/**
 * Two runs side by side, or two stages.
 *
 * @param differences in the order of the first run's stages; the run as a whole last
 * @param notes what a reader must know to read the table, one sentence each
 */
public record Comparison(Header first, Header second, List<Difference> differences, List<String> notes) {
    /** Two-sided share of a normal distribution beyond {@link Difference#FACTOR} deviations. */
    private static final double BY_CHANCE = 0.0455;

    public Comparison {
        differences = List.copyOf(differences);
        notes = List.copyOf(notes);
    }

    /** How many differences are known. */
    public long compared() {
        return differences.stream().filter(d -> d.difference().isPresent()).count();
    }

    public long toldApart() {
        return differences.stream().filter(Difference::toldApart).count();
    }

    /** How many of those compared would be told apart if nothing had changed and errors were normal. */
    public String expectedByChance() {
        return BigDecimal.valueOf(compared() * BY_CHANCE)
                .setScale(1, RoundingMode.HALF_UP)
                .toPlainString();
    }

    /**
     * The stages that two runs have in common: same id, same loads on the same part.
     *
     * @throws NotComparableException if there is none
     */
    public static Comparison ofRuns(Case first, Case second) throws NotComparableException {
        Map<String, Stage> left = ran(first.scan());
        Map<String, Stage> right = ran(second.scan());
        List<String> apart = new ArrayList<>();
        List<String> aligned = new ArrayList<>();
        List<String> notes = new ArrayList<>();
        left.forEach((id, stage) -> {
            Stage other = right.get(id);
            if (other == null) {
                apart.add(id + " (only the first run has it)");
            } else if (!sameLoad(stage, other)) {
                apart.add(id + " (its loads, or the part that it loads, differ)");
            } else {
                aligned.add(id);
                if (!stage.duration().equals(other.duration())) {
                    notes.add("Stage " + id + " was planned for "
                            + Texts.duration(stage.duration().toMillis() / 1e3) + " in the first run and for "
                            + Texts.duration(other.duration().toMillis() / 1e3) + " in the second.");
                }
            }
        });
        right.keySet().stream()
                .filter(id -> !left.containsKey(id))
                .forEach(id -> apart.add(id + " (only the second run has it)"));
        boolean loaded = aligned.stream().map(left::get).anyMatch(Comparison::loads);
        if (!loaded) {
            throw new NotComparableException("No stage that loads a part is the same in both runs: "
                    + (apart.isEmpty() ? "neither has one" : String.join("; ", apart))
                    + ". Run both by one procedure, or name two stages with --stages.");
        }
        boolean sameProcedure = first.scan()
                .header()
                .procedure()
                .sha256()
                .equals(second.scan().header().procedure().sha256());
        if (!sameProcedure) {
            notes.add(
                    0,
                    "The procedures differ ('" + first.scan().procedure().name() + "' and '"
                            + second.scan().procedure().name()
                            + "', or two editions of one); stages that align: " + String.join(", ", aligned) + ".");
        }
        if (!apart.isEmpty()) {
            notes.add("Not compared: " + String.join("; ", apart) + ".");
        }
        Sides sides = Sides.of(first, second);
        List<Difference> differences = new ArrayList<>();
        for (String id : aligned) {
            sides.stage(id, id, id, differences);
        }
        differences.add(Difference.of(
                "",
                Figure.interruptions(first, sides.firstMachine),
                Figure.interruptions(second, sides.secondMachine)));
        notes.addAll(sides.notes());
        notes.add(
                "Interruptions are counted over the whole run, however long it lasted; a run that broke off early had less"
                        + " time for them.");
        return new Comparison(first.scan().header(), second.scan().header(), differences, notes);
    }

    /**
     * One stage of the first run against another of the second, which may be the same run.
     *
     * @throws NotComparableException if a run has not that stage, or it loads nothing
     */
    public static Comparison ofStages(Case first, String firstStage, Case second, String secondStage)
            throws NotComparableException {
        Stage one = find(first.scan(), firstStage);
        Stage other = find(second.scan(), secondStage);
        List<String> notes = new ArrayList<>();
        if (!one.loads().equals(other.loads())) {
            notes.add("The two stages do not run the same loads.");
        }
        Sides sides = Sides.of(first, second);
        List<Difference> differences = new ArrayList<>();
        sides.stage(firstStage + " → " + secondStage, firstStage, secondStage, differences);
        notes.addAll(sides.notes());
        return new Comparison(first.scan().header(), second.scan().header(), differences, notes);
    }

    private static Stage find(Scan scan, String id) throws NotComparableException {
        Map<String, Stage> stages = ran(scan);
        Stage stage = stages.get(id);
        if (stage == null || !loads(stage)) {
            throw new NotComparableException((stage == null ? "No stage '" : "Nothing is loaded in stage '") + id
                    + "' of run " + scan.header().runId() + "; it ran " + String.join(", ", stages.keySet()) + ".");
        }
        return stage;
    }

    private static boolean loads(Stage stage) {
        return stage.proves().or(stage::gpu).isPresent();
    }

    private static Map<String, Stage> ran(Scan scan) {
        Map<String, Stage> stages = new LinkedHashMap<>();
        for (StageTally s : scan.stages()) {
            stages.putIfAbsent(s.stage().id(), s.stage());
        }
        return stages;
    }

    private static boolean sameLoad(Stage a, Stage b) {
        return a.loads().equals(b.loads())
                && a.gpu().equals(b.gpu())
                && a.proves().equals(b.proves());
    }

    /** Both runs, and how each machine is named among the sources of error. */
    private record Sides(Case first, Case second, String firstMachine, String secondMachine, boolean sameMachine) {
        static Sides of(Case first, Case second) {
            String a = machine(first);
            String b = machine(second);
            return new Sides(first, second, a, b, a.equals(b));
        }

        /** A run of a machine that does not tell who it is shares its sensors with itself alone. */
        private static String machine(Case run) {
            return MachineIdentity.of(run.scan().header())
                    .digest()
                    .orElse("of run " + run.scan().header().runId());
        }

        void stage(String name, String left, String right, List<Difference> differences) {
            List<Figure> ones = Figure.ofStage(first, left, firstMachine);
            List<Figure> others = Figure.ofStage(second, right, secondMachine);
            for (int i = 0; i < Math.min(ones.size(), others.size()); i++) {
                differences.add(Difference.of(name, ones.get(i), others.get(i)));
            }
        }

        List<String> notes() {
            List<String> notes = new ArrayList<>();
            boolean sameRun =
                    first.scan().header().runId().equals(second.scan().header().runId());
            if (!sameRun) {
                notes.add(
                        sameMachine
                                ? "Both runs are of one machine: the calibration of a sensor that both read is the same"
                                        + " error in both and cancels in the difference."
                                : "The runs are of two machines, or do not tell which: no error of calibration cancels.");
                if (second.scan().header().utc().isBefore(first.scan().header().utc())) {
                    notes.add("The second run began before the first: read the differences the other way round, or"
                            + " exchange the two.");
                }
                ambient().ifPresent(notes::add);
            } else {
                notes.add("One run: the calibration of a sensor that both stages read, and the error of the room's"
                        + " temperature, cancel in the difference as far as both stages move with it.");
            }
            if (first.scan().header().simulated() || second.scan().header().simulated()) {
                notes.add("SIMULATED: at least one of the two measured no machine.");
            }
            if (!first.scan()
                    .header()
                    .agentVersion()
                    .equals(second.scan().header().agentVersion())) {
                notes.add("Two versions of the agent: their units of work may differ, and with them the work rate.");
            }
            notes.add("Told apart means that the measurement can tell the two from each other. It does not say why: one"
                    + " machine differs from day to day by more than its sensors do.");
            return notes;
        }

        private Optional<String> ambient() {
            OptionalDouble a = first.scan().header().ambientCelsius();
            OptionalDouble b = second.scan().header().ambientCelsius();
            if (a.isEmpty() || b.isEmpty()) {
                return Optional.of("The ambient temperature was not taken in both runs: the plateaus contain whatever"
                        + " the rooms differed by.");
            }
            BigDecimal by =
                    BigDecimal.valueOf(b.getAsDouble() - a.getAsDouble()).setScale(1, RoundingMode.HALF_UP);
            return by.signum() == 0
                    ? Optional.empty()
                    : Optional.of("The second room was " + by.abs().toPlainString() + " K "
                            + (by.signum() > 0 ? "warmer" : "colder")
                            + ": the plateaus contain that, the thermal resistances do not.");
        }
    }
}

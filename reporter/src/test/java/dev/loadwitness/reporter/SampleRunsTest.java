// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import static org.assertj.core.api.Assertions.assertThat;

import com.fasterxml.jackson.databind.JsonNode;
import com.fasterxml.jackson.databind.ObjectMapper;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.simulation.SampleRuns;
import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.ProcedureException;
import dev.loadwitness.runlog.procedure.ProcedureReader;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.List;
import java.util.Optional;
import java.util.stream.Stream;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.MethodSource;

/** Every log in {@code sample-runs/} gets the verdict that stands beside it. */
final class SampleRunsTest {
    private static final Path SAMPLES = Path.of("..", "sample-runs");
    private static final ObjectMapper JSON = new ObjectMapper();

    static List<String> samples() throws IOException {
        try (Stream<Path> files = Files.walk(SAMPLES)) {
            List<String> names = files.filter(f -> f.endsWith("expected.json"))
                    .map(f -> SAMPLES.relativize(f.getParent()).toString())
                    .sorted()
                    .toList();
            assertThat(names).hasSizeGreaterThanOrEqualTo(19);
            return names;
        }
    }

    @ParameterizedTest(name = "{0}")
    @MethodSource("samples")
    void sampleIsJudgedAsItsStorySays(String name) throws IOException {
        Path folder = SAMPLES.resolve(name);
        JsonNode expected = JSON.readTree(folder.resolve("expected.json").toFile());
        List<Path> earlier = new ArrayList<>();
        expected.path("earlier").forEach(e -> earlier.add(folder.resolve(e.asText())));
        Judgement judgement = Judge.judge(
                new Judge.Request(folder.resolve("run.jsonl"), Optional.empty(), Optional.empty(), earlier, false));
        assertThat(judgement.verdict().outcome().word())
                .as(judgement.verdict().sentence())
                .isEqualTo(expected.path("outcome").asText());
        assertThat(Exit.of(judgement)).isEqualTo(expected.path("exit").asInt());
        assertThat(judgement.verdict().sentence())
                .contains(expected.path("says").asText());
        assertThat(criteria(judgement, Outcome.FAIL)).isEqualTo(words(expected.path("failing")));
        assertThat(criteria(judgement, Outcome.NOT_MEASURED)).isEqualTo(words(expected.path("notMeasured")));
    }

    private static List<String> criteria(Judgement judgement, Outcome outcome) {
        return judgement.verdict().findings().stream()
                .filter(f -> f.outcome() == outcome)
                .filter(Finding::mandatory)
                .map(f -> f.criterion().word())
                .distinct()
                .toList();
    }

    private static List<String> words(JsonNode array) {
        List<String> words = new ArrayList<>();
        array.forEach(w -> words.add(w.asText()));
        return words;
    }

    @Test
    void everySimulatedLogIsWhatTheSimulatorWritesToday(@TempDir Path fresh) throws IOException {
        SampleRuns.write(fresh);
        try (Stream<Path> files = Files.walk(fresh)) {
            for (Path file : files.filter(f -> f.toString().endsWith(".jsonl"))
                    .sorted(Comparator.naturalOrder())
                    .toList()) {
                Path kept = SAMPLES.resolve(fresh.relativize(file).toString());
                if (Boolean.getBoolean("loadwitness.rewrite")) {
                    Files.createDirectories(kept.getParent());
                    Files.write(kept, Files.readAllBytes(file));
                }
                assertThat(Files.mismatch(file, kept)).as(kept.toString()).isEqualTo(-1);
            }
        }
    }

    /**
     * Recorded on an H100 (driver 580.159.04). The driver's own counters stand beside its samples: energy against
     * integrated power, time at the power cap by counter and by flag.
     */
    @Test
    void onARealGpuCountersAndSamplesAgree() throws IOException {
        Judgement judgement = Judge.judge(Judge.Request.of(SAMPLES.resolve("real-gpu-rails/run.jsonl")));
        assertThat(finding(judgement, Criterion.ENERGY_AGREES).outcome()).isEqualTo(Outcome.PASS);
        assertThat(finding(judgement, Criterion.ENERGY_AGREES).measured()).isEqualTo("+0.02 %");
        assertThat(finding(judgement, Criterion.POWER_HELD).because()).contains("99.8 % of 700 W");
        assertThat(finding(judgement, Criterion.THROTTLE).evidence())
                .anySatisfy(e -> assertThat(e.text()).contains("power limit for 10 min"));
        assertThat(finding(judgement, Criterion.LOAD_STEPS).measured()).startsWith("6,296 edges");
        assertThat(finding(judgement, Criterion.COMPUTE_ERRORS).measured()).isEqualTo("0");
    }

    /** By the criteria of the shop's procedure of today: the logs carry an older one. */
    private static Judgement byTheRepairProcedure(String sample) throws IOException, ProcedureException {
        Path procedure = Path.of("..", "thresholds", "gpu-power-repair.yaml");
        return Judge.judge(new Judge.Request(
                SAMPLES.resolve(sample + "/run.jsonl"),
                Optional.of(ProcedureReader.read("gpu-power-repair.yaml", Files.readString(procedure))),
                Optional.empty(),
                List.of(),
                false));
    }

    @Test
    void aSoundMachineComesToRestWhereItsHeatCanLeave() throws Exception {
        Judgement judgement = byTheRepairProcedure("clean-pass");
        Finding room = finding(judgement, Criterion.WARM_ROOM);
        assertThat(room.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(room.measured()).startsWith("86.");
        Finding resistance = finding(judgement, Criterion.THERMAL_RESISTANCE);
        assertThat(resistance.measured()).startsWith("0.34");
        assertThat(resistance.because()).contains("reported, not judged");
    }

    @Test
    void aMachineThatShedsWattsOrStillWarmsHasNoPlateau() throws Exception {
        assertThat(finding(byTheRepairProcedure("regulated"), Criterion.WARM_ROOM)
                        .because())
                .contains("is regulated")
                .contains("sustained is 141 W");
        assertThat(finding(byTheRepairProcedure("bad-contact"), Criterion.WARM_ROOM)
                        .because())
                .contains("held back for heat");
        assertThat(finding(byTheRepairProcedure("still-rising"), Criterion.WARM_ROOM)
                        .because())
                .contains("changed until")
                .contains("does not tell where it would come to rest");
        assertThat(finding(byTheRepairProcedure("stuck-sensor"), Criterion.THERMAL_RESISTANCE)
                        .because())
                .contains("is stuck");
    }

    private static Finding finding(Judgement judgement, Criterion criterion) {
        return judgement.verdict().findings().stream()
                .filter(f -> f.criterion() == criterion)
                .findFirst()
                .orElseThrow();
    }

    @Test
    void aDamagedLogShowsNoPassAnywhere() throws IOException {
        Judgement judgement = Judge.judge(Judge.Request.of(SAMPLES.resolve("tampered/run.jsonl")));
        assertThat(judgement.verdict().findings()).noneMatch(f -> f.outcome() == Outcome.PASS);
    }

    @Test
    void aCurveOfWholeSamplesHasNoHoles() throws IOException {
        Judgement judgement = Judge.judge(new Judge.Request(
                SAMPLES.resolve("power-cut-restarted/run.jsonl"), Optional.empty(), Optional.empty(), List.of(), true));
        assertThat(judgement.scan().series()).isNotEmpty();
        judgement.scan().series().stream()
                .filter(s -> s.channel().id().equals("gpu-discrete.temperature"))
                .forEach(s -> assertThat(s.mean()).doesNotContain(Double.NaN));
    }

    @Test
    void allAttemptsOnATicketCountTogether() throws IOException {
        Path folder = SAMPLES.resolve("three-attempts");
        Judgement alone = Judge.judge(Judge.Request.of(folder.resolve("3/run.jsonl")));
        assertThat(alone.verdict().attempts()).hasSize(3);
        assertThat(alone.verdict().attempts().get(0).shown()).isFalse();
        assertThat(String.join("\n", alone.verdict().notes())).contains("is not counted");
        Judgement together = Judge.judge(new Judge.Request(
                folder.resolve("3/run.jsonl"),
                Optional.empty(),
                Optional.empty(),
                List.of(folder.resolve("1/run.jsonl"), folder.resolve("2/run.jsonl")),
                false));
        assertThat(String.join("\n", together.verdict().demonstrated())).contains("broke off 2 times");
        assertThat(together.verdict().attempts()).allMatch(a -> a.shown());
    }
}

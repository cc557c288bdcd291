// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria;

import static java.nio.charset.StandardCharsets.UTF_8;
import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.criteria.breakdown.DevicesTest;
import dev.loadwitness.reporter.criteria.work.LoadStepsTest;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.Need;
import java.io.IOException;
import java.io.UncheckedIOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;
import java.util.Locale;
import java.util.stream.Collectors;
import java.util.stream.Stream;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.Arguments;
import org.junit.jupiter.params.provider.EnumSource;
import org.junit.jupiter.params.provider.MethodSource;

/** runlog owns what a criterion is called, is given and needs; the rules here compute. The two must agree. */
class CriteriaContractTest {
    private static final Path SOURCES = Path.of("src/main/java");

    @TempDir
    Path folder;

    @Test
    void everyCriterionHasItsRule() {
        assertThat(Criteria.rules()).containsOnlyKeys(Criterion.values());
        Criteria.rules()
                .forEach((criterion, rule) -> assertThat(rule.criterion()).isEqualTo(criterion));
    }

    /** The compiler holds that a rule asks for what there is; this, that nothing can be given that no rule asks for. */
    @ParameterizedTest
    @EnumSource(Criterion.class)
    void everyParameterIsAskedForByTheReporter(Criterion criterion) throws Exception {
        try (Stream<Path> files = Files.walk(SOURCES)) {
            String sources = files.filter(f -> f.toString().endsWith(".java"))
                    .map(CriteriaContractTest::text)
                    .collect(Collectors.joining("\n"));
            String holder = Arrays.stream(criterion.name().split("_", -1))
                    .map(word -> word.charAt(0) + word.substring(1).toLowerCase(Locale.ROOT))
                    .collect(Collectors.joining());
            assertThat(criterion.parameters())
                    .allSatisfy(parameter -> assertThat(sources)
                            .containsPattern("\\bParameters\\." + holder + "\\."
                                    + parameter.name().replace('-', '_').toUpperCase(Locale.ROOT) + "\\b"));
        }
    }

    private static String text(Path file) {
        try {
            return Files.readString(file, UTF_8);
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    private static LogBuilder everything() {
        LogBuilder log = LogBuilder.laptop()
                .idle("idle", 30)
                .stage("integrated", 40, "loads: [gpu-mix], gpu: gpu-integrated", Role.GPU_INTEGRATED)
                .stage("ramp", 60, "loads: [gpu-ramp], gpu: gpu-discrete", Role.GPU_DISCRETE)
                // A fine sensor: a coarse one takes longer to show that it stands still.
                .describe("gpu.temperature", c -> c.withQuality(0.1, Double.NaN))
                .curve("gpu.temperature", m -> (m.loaded() ? 65 : 40) + Math.floor(m.seconds()) % 2 / 10)
                .soak("soak", 400)
                .stage("steps", 30, "loads: [gpu-steps], gpu: gpu-discrete", Role.GPU_DISCRETE)
                // 0.85 of the wall meter's rise is 164 W: 125 W and 40 W
                .jobSheet("""
                        wall-meter: {idle: 40 W, soak: 233 W}
                        rails: [{name: main 5 V, kind: fixed, nominal: 5 V, voltage-after: 5.05 V}]
                        hand-checks: [{name: keyboard, done: yes}]
                        """)
                .channel(Channel.of("cpu.power", Metric.POWER, Role.CPU, "powercap"), m -> m.loaded() ? 55 : 15)
                .channel(
                        Channel.of("integrated.work.verified", Metric.WORK_VERIFIED, Role.GPU_INTEGRATED, "load"),
                        m -> m.stage().equals("integrated") ? 10 : 0)
                .channel(Channel.of("integrated.work.errors", Metric.WORK_ERRORS, Role.GPU_INTEGRATED, "load"), m -> 0)
                .channel(Channel.of("gpu.pcie.replays", Metric.PCIE_REPLAYS, Role.GPU_DISCRETE, "gpu"), m -> 0)
                .channel(
                        Channel.of("memory.work.verified", Metric.WORK_VERIFIED, Role.MEMORY, "load"),
                        m -> m.stage().equals("march") ? 10 : 0)
                .channel(Channel.of("memory.work.errors", Metric.WORK_ERRORS, Role.MEMORY, "load"), m -> 0)
                .channel(Channel.of("fan.gpu.speed", Metric.FAN_SPEED, Role.FAN, "hwmon"), m -> 3000)
                .channel(
                        Channel.of("battery.charge", Metric.BATTERY_CHARGE, Role.BATTERY, "power_supply")
                                .withQuality(0.001, Double.NaN),
                        m -> 0.95)
                .asking("sleep", "woken", 30)
                .asking("replug", "replugged", 30)
                .asking("power-off", "booted", 30)
                .idle("rest", 10)
                .asking("cool-down", "again", 400)
                .stage("march", 90, "loads: [memory], memory-share: 50 %", Role.MEMORY);
        DevicesTest.watched(log);
        LoadStepsTest.ramp(log, 70, 10);
        LoadStepsTest.steps(log, 530, 0.5, 60);
        DevicesTest.watched(log, 622); // after the power-off that was asked for
        for (Criterion criterion : Criterion.values()) {
            log.criterion(
                    criterion.word(),
                    switch (criterion) {
                        case SOAK_DURATION -> "mandatory: yes, at-least: 6 min";
                        case COLD_STARTS -> "mandatory: yes, boots: 1, sleeps: 1, replugs: 1";
                        case TEMPERATURE_SETTLED -> "mandatory: yes, rise: 5 K, window: 5 min";
                        case CLOCK_HELD -> "mandatory: yes, window: 2 min";
                        case THERMAL_RESISTANCE -> "mandatory: yes, at-least: 0.2 K/W, at-most: 0.6 K/W";
                        default -> "mandatory: yes";
                    });
        }
        return log;
    }

    @Test
    void withAllThatIsNeededEveryCriterionPasses() throws Exception {
        List<Finding> findings = Judged.of(folder, everything()).verdict().findings();
        assertThat(findings).allSatisfy(f -> assertThat(f.outcome()).isEqualTo(Outcome.PASS));
        assertThat(findings.stream().map(Finding::criterion)).contains(Criterion.values());
    }

    static Stream<Arguments> needs() {
        List<Arguments> all = new ArrayList<>();
        for (Criterion criterion : Criterion.values()) {
            for (Need need : criterion.needs()) {
                all.add(Arguments.of(criterion, need));
            }
        }
        return all.stream();
    }

    @ParameterizedTest
    @MethodSource("needs")
    void aCriterionWhoseNeedIsAbsentIsNotMeasured(Criterion criterion, Need need) throws Exception {
        Role role = need.role().orElse(Role.GPU_DISCRETE);
        Finding f =
                aboutThePart(everything().without(c -> need.anyOf().stream().anyMatch(m -> c.is(role, m))), criterion);
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(f.because()).isNotBlank();
    }

    @ParameterizedTest
    @MethodSource("needs")
    void aCriterionWhoseNeedNeverAnswersIsNotMeasured(Criterion criterion, Need need) throws Exception {
        Role role = need.role().orElse(Role.GPU_DISCRETE);
        LogBuilder log = everything();
        log.eachChannel(c -> {
            if (need.anyOf().stream().anyMatch(m -> c.is(role, m))) {
                log.curve(c.id(), m -> Double.NaN);
            }
        });
        Finding f = aboutThePart(log, criterion);
        // Work that a load never reported is a load that was not there: that the soak may say so is not silence.
        assertThat(f.outcome())
                .isIn(
                        criterion == Criterion.SOAK_DURATION
                                ? List.of(Outcome.NOT_MEASURED, Outcome.FAIL)
                                : List.of(Outcome.NOT_MEASURED));
    }

    /** Of the parts that were loaded the integrated GPU is only there for comparison. */
    private Finding aboutThePart(LogBuilder log, Criterion criterion) throws IOException {
        List<Finding> found = Judged.findings(folder, log, criterion).stream()
                .filter(f -> !f.subject().equals(Role.GPU_INTEGRATED.word()))
                .toList();
        assertThat(found).hasSize(1);
        return found.get(0);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.heat;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.reporter.statistics.UncertaintyBudget;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import java.util.Map;
import java.util.OptionalDouble;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

class WarmRoomTest {
    @TempDir
    Path folder;

    /** 100 W and 15 W: 22.5 + 0.35·100 + 0.15·15 = 59.75 °C in this room. */
    private static LogBuilder soak(String settings) {
        return new WarmLogs()
                .soak("soak", 1500, 100, 15)
                .log()
                .curve("gpu.power.limit", m -> 100)
                .criterion("warm-room", "mandatory: no" + settings);
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.WARM_ROOM);
    }

    @Test
    void thePlateauMovesUpByAsMuchAsTheRoomIsWarmer() throws Exception {
        Finding f = judge(soak(""));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isIn("72.2 °C", "72.3 °C"); // 59.75 + 35 − 22.5 = 72.25
        assertThat(f.limit()).isEqualTo("at most 84.0 °C");
        assertThat(f.limitOrigin()).startsWith("device (slowdown at 89 °C)");
        assertThat(f.evidence().get(0).text()).contains("plateau 59.");
    }

    /** The slowdown is at 89 °C, 5 K margin, the plateau 12.5 K higher: it may be 71.5 °C here, less 2u. */
    @ParameterizedTest(name = "room of {0}: {1}")
    @CsvSource({"40, PASS", "46, INCONCLUSIVE", "47, INCONCLUSIVE", "52, FAIL"})
    void eitherSideOfTheGuardBand(int warm, Outcome outcome) throws Exception {
        Finding f = judge(soak(", warm: " + warm + " Cel"));
        assertThat(f.outcome()).isEqualTo(outcome);
        assertThat(f.conformity()).isNotEqualTo(OptionalDouble.empty());
    }

    @Test
    void againstTheProceduresOwnCeilingTheSensorsErrorCounts() throws Exception {
        LogBuilder log = soak(", ceiling: 90 Cel").describe("gpu.temperature", c -> c.withLimits(Map.of()));
        Finding own = judge(log);
        assertThat(own.limit()).isEqualTo("at most 90.0 °C");
        assertThat(Double.parseDouble(own.uncertainty().replace(" K", "")))
                .isGreaterThan(Double.parseDouble(judge(soak("")).uncertainty().replace(" K", "")) + 1);
    }

    @Test
    void heldBackForHeatIsRegulatedAndTheWattsAreTheResult() throws Exception {
        Finding f = judge(soak("").curve("gpu.throttle.heat", m -> m.loaded() && m.intoStage() > 600 ? 1 : 0));
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(f.because()).contains("is regulated").contains("100 W");
        assertThat(Cause.HEAT.word()).isEqualTo("heat");
    }

    /** No flag, no counter: the temperature stands at its target, and the watts fall. */
    @Test
    void standingAtTheTargetWhilePowerFallsIsRegulatedWithoutAnyFlag() throws Exception {
        LogBuilder log = soak("").describe(
                        "gpu.temperature", c -> c.withLimits(Map.of(LimitType.MAX, 60.0, LimitType.THROTTLED, 89.0)))
                .curve("gpu.power", m -> m.loaded() ? 104 - 6 * m.intoStage() / 1500 : 8);
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(f.because()).contains("stood at its target of 60 °C");
        // As warm with its power held it is not: then it came to rest there by itself.
        assertThat(judge(soak("").describe("gpu.temperature", c -> c.withLimits(Map.of(LimitType.MAX, 60.0))))
                        .because())
                .doesNotContain("regulated");
    }

    @Test
    void aFanThatChangesLateLeavesTooLittleToTell() throws Exception {
        Finding f = judge(soak("").curve("fan.one", m -> m.intoStage() < 1470 ? 3000 : 3400));
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(f.because()).contains("the speed of fan.one changed until");
    }

    @Test
    void aFanThatChangesEarlyShortensWhatIsFitted() throws Exception {
        Finding f = judge(soak("").curve("fan.one", m -> m.intoStage() < 200 ? 2500 : 3000));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.evidence().get(0).text()).contains("its last 21 min");
    }

    @Test
    void aStageTooShortForItsTimeConstantIsNotMeasured() throws Exception {
        Finding f = judge(new WarmLogs().soak("soak", 300, 100, 15).log().criterion("warm-room", "mandatory: no"));
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(f.because()).contains("do not tell where it would come to rest");
    }

    /** As after a limit that fell: coolness at part load says nothing of full load. */
    @Test
    void aPlateauAtLessThanFullLoadIsNone() throws Exception {
        assertThat(judge(soak("").jobSheet("rated-graphics-power: 117 W\n")).outcome())
                .isEqualTo(Outcome.PASS);
        Finding f = judge(soak("").jobSheet("rated-graphics-power: 118 W\n"));
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(f.because()).contains("while it drew 100 W of 118 W");
    }

    @Test
    void withoutTheRoomsTemperatureNothingIsKnown() throws Exception {
        Finding f = judge(soak("").withoutAmbient());
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(f.because()).contains("ambient temperature was not taken");
    }

    @ParameterizedTest
    @CsvSource({"1, 0.5, 0.5, ambient", "0.5, 1, 0.5, run longer", "0.5, 0.5, 2, settles nothing"})
    void theAdviceIsForTheLargestPartOfTheUncertainty(double room, double plateau, double sensor, String advice) {
        UncertaintyBudget budget = UncertaintyBudget.none()
                .statistical(WarmRoom.PLATEAU, plateau, 20)
                .calibration(WarmRoom.ROOM, room)
                .calibration("sensor, as it states", sensor);
        assertThat(WarmRoom.settling(budget)).contains(advice);
    }
}

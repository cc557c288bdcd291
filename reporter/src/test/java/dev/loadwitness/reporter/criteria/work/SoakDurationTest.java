// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.work;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class SoakDurationTest {
    @TempDir
    Path folder;

    private static LogBuilder soak(double seconds) {
        return LogBuilder.gpuSoak(seconds, "soak-duration", "mandatory: yes, at-least: 2 min, power-share: 85 %");
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.SOAK_DURATION);
    }

    @Test
    void aStretchUnderFullLoadPassesAndSaysTheWattsAndWhereTheReferenceIsFrom() throws Exception {
        Finding f = judge(soak(150));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("2 min 30 s");
        assertThat(f.margin()).isEqualTo("+30 s");
        assertThat(f.because()).endsWith("was held for 2 min 30 s without a break.");
        assertThat(f.evidence())
                .filteredOn(e -> e.place().equals("counted"))
                .singleElement()
                .satisfies(e -> assertThat(e.text())
                        .startsWith("full load is 128 W or more, 85.0 % of 150 W, ")
                        .contains("rating unknown")
                        .endsWith("it drew 140 W on average"));
    }

    private static LogBuilder rails(double coreWatts, double mixSeconds) {
        return LogBuilder.laptop()
                .idle("idle", 30)
                .stage("core", 60, "loads: [gpu-core], gpu: gpu-discrete, proves: gpu-discrete", Role.GPU_DISCRETE)
                .soak("mix", mixSeconds)
                .criterion("soak-duration", "mandatory: yes, at-least: 2 min")
                .curve("gpu.power", m -> m.stage().equals("core") ? coreWatts : m.loaded() ? 140 : 15);
    }

    @Test
    void aLoadOfOneRailCountsOnlyWhereItReachesTheWattsOfAFullLoad() throws Exception {
        assertThat(judge(rails(128, 90)).measured()).isEqualTo("2 min 30 s");
        Finding f = judge(rails(100, 130));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("2 min 10 s");
        assertThat(f.evidence())
                .anySatisfy(e ->
                        assertThat(e.text()).startsWith("core: 1 min of verified work on one rail at 100 W (66.7 %)"));
        // That it draws less is its nature: it is not named as what broke the soak off.
        assertThat(judge(rails(100, 90)).outcome()).isEqualTo(Outcome.FAIL);
        assertThat(judge(rails(100, 90)).because()).contains("there for 1 min 30 s of the 2 min demanded.");
    }

    @Test
    void aRailThatWasNotWorkedThroughItsStageIsNotShown() throws Exception {
        Finding f = judge(rails(100, 130)
                .curve(
                        "gpu.work.verified",
                        m -> m.stage().equals("core") && m.intoStage() > 30 ? 100 : m.loaded() ? 1000 : 0));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("Stage core held its load for only 30 s, so its rail is not shown");
    }

    @Test
    void withoutWattsALoadOfOneRailNeverCounts() throws Exception {
        LogBuilder log = rails(100, 130).without(c -> c.id().equals("gpu.power") || c.id().equals("gpu.energy"));
        assertThat(judge(log).measured()).isEqualTo("2 min 10 s");
    }

    @Test
    void exactlyTheTimeAskedPasses() throws Exception {
        assertThat(judge(soak(120)).outcome()).isEqualTo(Outcome.PASS);
    }

    @Test
    void aSecondShortFailsAndSaysByHowMuchAndWhatToPlan() throws Exception {
        Finding f = judge(soak(129).curve("gpu.power", m -> m.loaded() && m.intoStage() > 10 ? 140 : 15));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).contains("demanded, 1.0 s short: give the stage a little more than it must hold.");
        assertThat(judge(soak(122).curve("gpu.power", m -> m.loaded() && m.intoStage() > 10 ? 140 : 15))
                        .because())
                .doesNotContain("short");
    }

    @Test
    void oneWindowTooLittlePowerInTheMiddleBreaksTheStretchAndFails() throws Exception {
        Finding f = judge(soak(150)
                .curve("gpu.power", m -> m.loaded() ? (m.intoStage() > 70 && m.intoStage() <= 80 ? 100 : 140) : 15));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.measured()).isEqualTo("1 min 10 s");
        assertThat(f.because()).contains("drew 100 W of 150 W").contains("at 1:41");
    }

    @Test
    void powerExactlyAtTheShareCountsAsLoadedAndJustBelowDoesNot() throws Exception {
        assertThat(judge(soak(150).curve("gpu.power", m -> 127.5)).outcome()).isEqualTo(Outcome.PASS);
        assertThat(judge(soak(150).curve("gpu.power", m -> 127.4)).outcome()).isEqualTo(Outcome.FAIL);
    }

    @Test
    void comingUpForThirtySecondsBreaksNothingAndCountsForNothing() throws Exception {
        Finding f = judge(soak(150).curve("gpu.power", m -> m.loaded() && m.intoStage() > 30 ? 140 : 20));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("2 min");
        assertThat(f.evidence()).filteredOn(e -> !e.at().isEmpty()).hasSize(1);
    }

    @Test
    void comingUpForFortySecondsIsSaidToBreakOff() throws Exception {
        Finding f = judge(soak(150).curve("gpu.power", m -> m.loaded() && m.intoStage() > 40 ? 140 : 20));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.measured()).isEqualTo("1 min 50 s");
        assertThat(f.because()).contains("drew 20 W of 150 W");
    }

    @Test
    void goingDownInTheLastThirtySecondsBreaksNothing() throws Exception {
        Finding f = judge(soak(150).curve("gpu.power", m -> m.loaded() && m.intoStage() <= 120 ? 140 : 20));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("2 min");
        assertThat(f.evidence()).filteredOn(e -> !e.at().isEmpty()).hasSize(1);
    }

    @Test
    void stagesThatFollowEachOtherAreOneStretch() throws Exception {
        LogBuilder log = LogBuilder.laptop()
                .soak("core", 70)
                .soak("mix", 70)
                .criterion("soak-duration", "mandatory: yes, at-least: 2 min")
                .curve("gpu.power", m -> m.loaded() && m.intoStage() > 10 ? 140 : 20);
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("2 min");
    }

    @Test
    void aLongIdleStageBetweenTwoEndsTheStretch() throws Exception {
        LogBuilder log = LogBuilder.laptop()
                .soak("first", 130)
                .idle("pause", 70)
                .soak("second", 70)
                .criterion("soak-duration", "mandatory: yes, at-least: 2 min");
        assertThat(judge(log).measured()).isEqualTo("2 min 10 s");
    }

    @Test
    void aShortIdleStageBetweenTwoEndsTheStretchToo() throws Exception {
        LogBuilder log = LogBuilder.laptop()
                .soak("first", 130)
                .idle("pause", 20)
                .soak("second", 70)
                .criterion("soak-duration", "mandatory: yes, at-least: 2 min");
        assertThat(judge(log).measured()).isEqualTo("2 min 10 s");
    }

    @Test
    void theJobSheetsRatingIsTheReferenceEvenWhereTheMachineAllowsItselfLess() throws Exception {
        LogBuilder log = soak(150)
                .jobSheet("rated-graphics-power: 150 W\n")
                .curve("gpu.power.limit", m -> 80)
                .curve("gpu.power", m -> 80);
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).contains("drew 80 W of 150 W");
        assertThat(f.evidence()).anySatisfy(e -> assertThat(e.text()).contains("of 150 W, job sheet"));
    }

    @Test
    void theHighestLimitOnMainsIsTheReferenceAndOneOnBatteryIsNot() throws Exception {
        LogBuilder log = soak(150)
                .curve("adapter.online", m -> m.seconds() <= 10 ? 0 : 1)
                .curve("gpu.power.limit", m -> m.seconds() <= 10 ? 300 : m.seconds() <= 20 ? 160 : 150);
        Finding f = judge(log);
        assertThat(f.evidence()).anySatisfy(e -> assertThat(e.text()).contains("85.0 % of 160 W"));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
    }

    @Test
    void aPowerReadingWithoutAnEnergyCounterIsUsed() throws Exception {
        LogBuilder log = soak(150).without(c -> c.metric().equals(Metric.ENERGY));
        assertThat(judge(log).outcome()).isEqualTo(Outcome.PASS);
        assertThat(judge(log.curve("gpu.power", m -> 100)).outcome()).isEqualTo(Outcome.FAIL);
    }

    @Test
    void theEnergyCounterGoesBeforeThePowerReading() throws Exception {
        LogBuilder log = soak(150).curve("gpu.energy", m -> 100);
        assertThat(judge(log).outcome()).isEqualTo(Outcome.FAIL);
    }

    private static LogBuilder withoutPower(double seconds) {
        return soak(seconds)
                .without(c -> c.metric().equals(Metric.POWER) || c.metric().equals(Metric.ENERGY));
    }

    @Test
    void withoutReadablePowerTheWorkRateDecidesAndTheFindingSaysSo() throws Exception {
        Finding f = judge(withoutPower(150));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.because()).contains("judged by work rate").contains("no power is readable");
    }

    @Test
    void theWorkRateAloneNeverFailsAMachine() throws Exception {
        Finding f = judge(withoutPower(150)
                .curve("gpu.work.verified", m -> m.intoStage() > 70 && m.intoStage() <= 80 ? 800 : 1000));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("80.0 % of its own best minute");
    }

    @Test
    void workFoundWrongDoesNotCountAsLoad() throws Exception {
        Finding f = judge(soak(150).curve("gpu.work.errors", m -> m.intoStage() == 75 ? 1 : 0));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).contains("broke off because work was found wrong");
    }

    @Test
    void powerWithoutWorkDoesNotCountAsLoad() throws Exception {
        Finding f = judge(soak(150).curve("gpu.work.verified", m -> 0));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.measured()).isEqualTo("0 s");
        assertThat(f.because()).contains("no verified work was done");
    }

    @Test
    void aRunThatAPersonEndedBeforeItsTimeIsInconclusive() throws Exception {
        Finding f = judge(soak(150).stops(100, CloseReason.OPERATOR_STOP, "Ctrl-C"));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.measured()).isEqualTo("1 min 10 s");
    }

    @Test
    void withoutVerifiedWorkInTheLogNothingIsMeasured() throws Exception {
        Finding f = judge(soak(150).without(c -> c.is(Role.GPU_DISCRETE, Metric.WORK_VERIFIED)));
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
    }

    @Test
    void theJobSheetCanDeclareItNotApplicable() throws Exception {
        Finding f = judge(soak(150).jobSheet("not-applicable:\n  soak-duration: board only, no heatsink\n"));
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_APPLICABLE);
        assertThat(f.because()).contains("board only, no heatsink");
    }
}

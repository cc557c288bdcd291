// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.power;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import java.util.Map;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

/** A minute at rest and a quarter of an hour of load, with a battery whose charge is known to a thousandth. */
class ChargingTest {
    private static final double IDLE = 60;
    private static final double SOAK = 900;

    @TempDir
    Path folder;

    private static Channel battery(String name, Metric metric) {
        return Channel.of("battery.bat0." + name, metric, Role.BATTERY, "power_supply/BAT0");
    }

    private static LogBuilder log(LogBuilder.Curve charge, String settings) {
        return LogBuilder.laptop()
                .idle("idle", IDLE)
                .soak("soak", SOAK)
                .criterion("charging", settings)
                .channel(battery("charge", Metric.BATTERY_CHARGE).withQuality(0.001, Double.NaN), charge);
    }

    private static LogBuilder log(LogBuilder.Curve charge) {
        return log(charge, "mandatory: yes");
    }

    /** A charge in steps of a thousandth that falls under load by so many points an hour. */
    private static LogBuilder.Curve draining(double pointsPerHour) {
        return m ->
                Math.floor((0.95 - pointsPerHour / 100 * Math.max(0, m.seconds() - IDLE) / 3600) * 1000 + 1e-9) / 1000;
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.CHARGING);
    }

    @Test
    void chargeThatRoseUnderLoadIsGainedAndNotLostWithASign() throws Exception {
        Finding f = judge(log(draining(-12)));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("12.0 points/h gained");
        assertThat(f.because()).contains("The battery gained 12.0 points of charge an hour");
    }

    /** u = 0.1/√6 points in a quarter of an hour = 0.163 points/h; guard band 0.33. */
    @ParameterizedTest(name = "{0} points an hour: {1}")
    @CsvSource({"0, PASS", "4, PASS", "5, INCONCLUSIVE", "6, FAIL", "-20, PASS"})
    void theChargeMayFallByFivePointsAnHourUnderTheLoadOfOneChip(double pointsPerHour, Outcome outcome)
            throws Exception {
        Finding f = judge(log(draining(pointsPerHour)));
        assertThat(f.measured())
                .endsWith(pointsPerHour < 0 ? "points/h gained" : "points/h lost")
                .doesNotContain("-");
        assertThat(f.outcome()).as(f.because()).isEqualTo(outcome);
    }

    @Test
    void wholePercentsInAShortStageCannotTell() throws Exception {
        LogBuilder log = log(m -> 0.95).describe("battery.bat0.charge", c -> c.withQuality(0.01, Double.NaN));
        Finding enough = judge(log);
        assertThat(enough.outcome()).isEqualTo(Outcome.PASS); // 0 + 3.3 of 5 points/h
        Finding f = judge(LogBuilder.laptop()
                .idle("idle", IDLE)
                .soak("soak", 300)
                .criterion("charging", "mandatory: yes")
                .channel(battery("charge", Metric.BATTERY_CHARGE).withQuality(0.01, Double.NaN), m -> 0.95));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("steps too coarse for 4 min 59 s");
    }

    /** The channel says a thousandth, but whole percents are what comes. */
    @Test
    void theStepThatIsSeenCountsWhereItIsCoarserThanTheOneStated() throws Exception {
        Finding f = judge(log(m -> m.seconds() < 500 ? 0.95 : 0.94));
        assertThat(f.uncertainty()).isEqualTo("3 points/h");
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
    }

    @Test
    void anAdapterThatDropsOutFailsEvenForOneSample() throws Exception {
        Finding f = judge(log(m -> 0.95).curve("adapter.online", m -> m.seconds() == 200 ? 0 : 1));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).contains("at 3:20").contains("power jack");
    }

    @Test
    void aPlugThatAPersonWasAskedToPullIsNoDrop() throws Exception {
        LogBuilder log = log(m -> 0.95)
                .event(10, EventKind.OPERATOR_ASKED, Map.of("what", "replug", "stage", "soak"))
                .event(40, EventKind.OPERATOR_DONE, Map.of("what", "replug", "stage", "soak"))
                .curve("adapter.online", m -> m.seconds() >= 15 && m.seconds() < 35 ? 0 : 1);
        assertThat(judge(log).outcome()).isEqualTo(Outcome.PASS);
        assertThat(judge(log.curve("adapter.online", m -> m.seconds() >= 45 && m.seconds() < 50 ? 0 : 1))
                        .outcome())
                .isEqualTo(Outcome.FAIL);
    }

    @Test
    void aRunOnBatteryMeasuresNothing() throws Exception {
        Finding f = judge(log(m -> 0.95).curve("adapter.online", m -> 0));
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(f.because()).contains("on battery");
    }

    @Test
    void noBatteryIsNotMeasuredUnlessTheJobSheetSaysThatItDoesNotApply() throws Exception {
        LogBuilder log = log(m -> 0.95).without(c -> c.role() == Role.BATTERY);
        assertThat(judge(log).outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(judge(log.jobSheet("not-applicable: {charging: no battery fitted}\n"))
                        .outcome())
                .isEqualTo(Outcome.NOT_APPLICABLE);
    }

    @Test
    void belowTheFirmwaresThresholdItMustCharge() throws Exception {
        LogBuilder log = log(m -> 0.70).channel(battery("start", Metric.BATTERY_CHARGE_START), m -> 0.75);
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).contains("firmware's own threshold of 75.0 %");
        assertThat(judge(log.curve("battery.bat0.start", m -> 0.65)).because()).contains("nor was it due");
        log.curve("battery.bat0.start", m -> 0.75)
                .channel(battery("state", Metric.BATTERY_STATE), m -> m.seconds() == 30 ? 1 : 0);
        assertThat(judge(log).outcome()).isEqualTo(Outcome.PASS);
    }

    @Test
    void whereTheFirmwareSaysNoThresholdItMayHoldTheBatteryBack() throws Exception {
        assertThat(judge(log(m -> 0.70)).outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(judge(log(m -> 0.81)).outcome()).isEqualTo(Outcome.PASS);
        assertThat(judge(log(m -> 0.70).channel(battery("power", Metric.BATTERY_POWER), m -> m.loaded() ? 0 : 20))
                        .outcome())
                .isEqualTo(Outcome.PASS);
    }

    @Test
    void aProcedureMayAskForPointsThatWereGained() throws Exception {
        String settings = "mandatory: yes, gained: 1 %";
        LogBuilder.Curve slow = m -> m.loaded() ? 0.705 : 0.70 + Math.floor(m.seconds() / 12) / 1000;
        assertThat(judge(log(slow, settings)).because()).contains("added 0.5 points");
        LogBuilder.Curve fast = m -> m.loaded() ? 0.73 : 0.70 + Math.floor(m.seconds() / 2) / 1000;
        assertThat(judge(log(fast, settings)).outcome()).isEqualTo(Outcome.PASS);
        assertThat(judge(log(m -> 0.95, settings)).outcome()).isEqualTo(Outcome.INCONCLUSIVE);
    }

    @Test
    void aDrainWhileEverythingIsLoadedIsReportedOnly() throws Exception {
        LogBuilder log = log(m -> m.stage().equals("combined") ? 0.95 - m.intoStage() / 3600 : 0.95)
                .stage("combined", 300, "loads: [cpu, gpu-mix], gpu: gpu-discrete", Role.GPU_DISCRETE);
        Finding f = judge(log);
        assertThat(f.outcome()).as(f.because()).isEqualTo(Outcome.PASS);
        assertThat(f.evidence()).extracting(Evidence::text).anyMatch(t -> t.startsWith("everything loaded, reported"));
    }
}

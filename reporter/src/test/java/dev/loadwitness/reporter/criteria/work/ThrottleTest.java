// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.work;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.within;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.Random;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;
import org.junit.jupiter.params.provider.ValueSource;

class ThrottleTest {
    @TempDir
    Path folder;

    private static LogBuilder soak(String settings) {
        return LogBuilder.gpuSoak(120, "throttle", settings);
    }

    private static LogBuilder soak() {
        return soak("mandatory: yes");
    }

    /** A flag that is up for three samples. */
    private static LogBuilder flag(LogBuilder log, String cause, double fromSecondOfStage) {
        return log.curve(
                "gpu.throttle." + cause,
                m -> m.loaded() && m.intoStage() >= fromSecondOfStage && m.intoStage() < fromSecondOfStage + 3 ? 1 : 0);
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.THROTTLE);
    }

    @Test
    void noEpisodePasses() throws Exception {
        Finding f = judge(soak());
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("0 episodes, 0 s");
    }

    @ParameterizedTest
    @ValueSource(strings = {"heat", "power-brake", "hardware-slowdown"})
    void oneEpisodeOfADefectClassFailsWithItsTimeAndPlace(String cause) throws Exception {
        Finding f = judge(flag(soak(), cause, 60));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.measured()).isEqualTo("1 episode, 3 s");
        assertThat(f.because()).contains("held itself back 1 time, 3 s in all, first at 1:30");
        assertThat(f.evidence()).anySatisfy(e -> assertThat(e.text()).contains("(" + cause + ")"));
    }

    @Test
    void theOrdinaryPowerCapIsReportedAndNeverCounts() throws Exception {
        Finding f = judge(soak().curve("gpu.throttle.power-cap", m -> m.loaded() ? 1 : 0));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.evidence())
                .anySatisfy(e -> assertThat(e.text())
                        .isEqualTo("it ran at its ordinary power limit for 1 min 59 s, which is expected"));
    }

    private static LogBuilder withCombined() {
        return soak().stage("combined", 60, "loads: [cpu, gpu-mix], gpu: gpu-discrete", Role.GPU_DISCRETE);
    }

    @ParameterizedTest
    @ValueSource(strings = {"heat", "power-brake", "hardware-slowdown"})
    void inAStageThatProvesNothingAnEpisodeIsReportedWithItsPlaceAndNotCounted(String cause) throws Exception {
        Finding f = judge(withCombined()
                .curve(
                        "gpu.throttle." + cause,
                        m -> m.stage().equals("combined") && m.intoStage() >= 30 && m.intoStage() < 33 ? 1 : 0));

        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("0 episodes, 0 s");
        assertThat(f.because())
                .contains("In stage combined, which loads it and proves nothing, it held itself back: "
                        + cause.replace('-', ' ') + " 3 s; that is not counted here.");
        assertThat(f.evidence()).anySatisfy(e -> assertThat(e.text()).contains("(" + cause + ") first seen"));
    }

    @Test
    void theSameEpisodeInAStageThatProvesThePartFailsAndAQuietStageBesideItIsNotMentioned() throws Exception {
        Finding f = judge(flag(withCombined(), "power-brake", 60));

        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).doesNotContain("combined");
    }

    @Test
    void thePowerCapOfAStageThatProvesNothingIsNoNews() throws Exception {
        Finding f = judge(
                withCombined().curve("gpu.throttle.power-cap", m -> m.stage().equals("combined") ? 1 : 0));

        assertThat(f.because()).doesNotContain("combined");
    }

    /** As when a device comes or goes: the channels that stay go on, and none is held back until the stage's end. */
    @Test
    void anEpisodeDuringWhichTheChannelsAreListedAnewIsOne() throws Exception {
        Finding f = judge(flag(soak(), "heat", 60).listedAnewAt(30 + 62));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.measured()).isEqualTo("1 episode, 3 s");
    }

    @Test
    void aFlagThatNeverFallsIsStillAnEpisode() throws Exception {
        Finding f = judge(soak().curve("gpu.throttle.heat", m -> m.loaded() && m.intoStage() >= 60 ? 1 : 0));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.measured()).isEqualTo("1 episode, 1 min");
    }

    @Test
    void aBareHardwareSlowdownWithinFiveSecondsOfTheStagesBeginIsIgnored() throws Exception {
        assertThat(judge(flag(soak(), "hardware-slowdown", 1)).outcome()).isEqualTo(Outcome.PASS);
        assertThat(judge(flag(soak(), "hardware-slowdown", 5)).outcome()).isEqualTo(Outcome.FAIL);
        // One that outlasts the edge is counted from there.
        assertThat(judge(flag(soak(), "hardware-slowdown", 3)).outcome()).isEqualTo(Outcome.FAIL);
    }

    @Test
    void heatAtTheStagesBeginCounts() throws Exception {
        assertThat(judge(flag(soak(), "heat", 1)).outcome()).isEqualTo(Outcome.FAIL);
    }

    @Test
    void numberAndTimeAreLetPassUpToTheirLimitsAndNoFurther() throws Exception {
        assertThat(judge(flag(soak("mandatory: yes, at-most: 1, at-most-time: 3 s"), "heat", 60))
                        .outcome())
                .isEqualTo(Outcome.PASS);
        assertThat(judge(flag(soak("mandatory: yes, at-most: 0, at-most-time: 3 s"), "heat", 60))
                        .outcome())
                .isEqualTo(Outcome.FAIL);
        assertThat(judge(flag(soak("mandatory: yes, at-most: 1, at-most-time: 2 s"), "heat", 60))
                        .outcome())
                .isEqualTo(Outcome.FAIL);
    }

    @Test
    void aCounterInTheHardwareIsReadBetweenSamplesAndAnEpisodeIsNotCountedTwice() throws Exception {
        LogBuilder log = flag(soak(), "heat", 60)
                .channel(
                        Channel.of("gpu.throttle.heat.count", Metric.THROTTLE_COUNT, Role.GPU_DISCRETE, "gpu")
                                .withCause(Cause.HEAT),
                        m -> m.intoStage() == 60 || m.intoStage() == 90 ? 1 : 0);
        assertThat(judge(log).measured()).isEqualTo("2 episodes, 3 s");
    }

    @Test
    void timeCountedWithoutAnEpisodeIsOneEpisode() throws Exception {
        LogBuilder log = soak().channel(
                        Channel.of("gpu.throttle.brake.time", Metric.THROTTLE_TIME, Role.GPU_DISCRETE, "gpu")
                                .withCause(Cause.POWER_BRAKE),
                        m -> m.intoStage() == 60 ? 0.25 : 0);
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.measured()).isEqualTo("1 episode, 0.2 s");
    }

    @Test
    void whatHappensWhileNothingIsProvedIsNotThisCriterions() throws Exception {
        assertThat(judge(soak().curve("gpu.throttle.heat", m -> m.seconds() < 20 ? 1 : 0))
                        .outcome())
                .isEqualTo(Outcome.PASS);
    }

    @Test
    void withoutFlagsOrWithoutAnswersNothingIsMeasured() throws Exception {
        assertThat(judge(soak().without(c -> c.id().startsWith("gpu.throttle.")))
                        .outcome())
                .isEqualTo(Outcome.NOT_MEASURED);
        assertThat(judge(soak().without(c -> c.id().startsWith("gpu.throttle.") && !c.id().endsWith("power-cap")))
                        .outcome())
                .isEqualTo(Outcome.NOT_MEASURED);
        LogBuilder silent = soak();
        for (Cause cause : Cause.values()) {
            silent.curve("gpu.throttle." + cause.word(), m -> Double.NaN);
        }
        assertThat(judge(silent).outcome()).isEqualTo(Outcome.NOT_MEASURED);
    }

    private static LogBuilder counter(LogBuilder log, Cause cause, LogBuilder.Curve secondsPerSecond) {
        return log.channel(
                Channel.of("gpu.throttle." + cause.word() + ".time", Metric.THROTTLE_TIME, Role.GPU_DISCRETE, "gpu")
                        .withCause(cause),
                secondsPerSecond);
    }

    private static String told(Finding f, String place) {
        return f.evidence().stream()
                .filter(e -> e.place().equals(place))
                .map(Evidence::text)
                .reduce("", (a, b) -> a + "; " + b);
    }

    @Test
    void pausesShorterThanTwoSecondsDoNotEndAnEpisode() throws Exception {
        LogBuilder flicker = soak().curve(
                        "gpu.throttle.heat",
                        m -> m.intoStage() >= 60 && m.intoStage() < 70 ? 1 - Math.floor(m.intoStage()) % 2 : 0);
        assertThat(judge(flicker).measured()).isEqualTo("1 episode, 5 s");
        LogBuilder apart = soak().curve("gpu.throttle.heat", m -> m.intoStage() == 60 || m.intoStage() == 63 ? 1 : 0);
        assertThat(judge(apart).measured()).isEqualTo("2 episodes, 2 s");
    }

    @Test
    void aCounterOfTimeTellsHowLongAndHowOftenWhatNoSampleSaw() throws Exception {
        Finding f = judge(counter(
                soak(), Cause.HEAT, m -> m.intoStage() == 40 || m.intoStage() == 41 || m.intoStage() == 80 ? 0.1 : 0));
        assertThat(f.measured()).isEqualTo("2 episodes, 0.3 s");
        assertThat(told(f, "measured")).contains("heat (counter and flag)");
        assertThat(told(f, "disagreement")).isEmpty();
    }

    /** As from the library: the policy's violation time and the hardware's own, of the same episodes. */
    @Test
    void ofTwoCountersOfTheSameCauseTheLargerCountsAndTheyAreNeverAdded() throws Exception {
        LogBuilder log = counter(soak(), Cause.HEAT, m -> m.intoStage() == 40 || m.intoStage() == 80 ? 0.5 : 0)
                .channel(
                        Channel.of("gpu.throttle.heat.hardware-time", Metric.THROTTLE_TIME, Role.GPU_DISCRETE, "gpu")
                                .withCause(Cause.HEAT),
                        m -> m.intoStage() == 40 ? 0.25 : 0);
        Finding f = judge(log);
        assertThat(f.measured()).isEqualTo("2 episodes, 1 s");
        assertThat(told(f, "disagreement")).isEmpty();
        // The flag is held against the larger of the two as well.
        assertThat(told(
                        judge(log.curve("gpu.throttle.heat", m -> m.intoStage() >= 60 && m.intoStage() < 80 ? 1 : 0)),
                        "disagreement"))
                .contains("the flag was up for 20 s, the counter tells of 1 s");
    }

    @Test
    void episodesOfSeveralStagesAddUp() throws Exception {
        LogBuilder two = soak().soak("again", 120)
                .curve("gpu.throttle.heat", m -> m.intoStage() >= 60 && m.intoStage() < 63 ? 1 : 0);
        assertThat(judge(two).measured()).isEqualTo("2 episodes, 6 s");
    }

    @Test
    void whereTheFlagShowsMoreThanTheCounterTheTwoDisagreeAndTheLargerCounts() throws Exception {
        LogBuilder log = counter(soak(), Cause.HEAT, m -> 0)
                .curve("gpu.throttle.heat", m -> m.intoStage() >= 60 && m.intoStage() < 80 ? 1 : 0);
        Finding f = judge(log);
        assertThat(f.measured()).isEqualTo("1 episode, 20 s");
        assertThat(told(f, "disagreement")).contains("heat: the flag was up for 20 s, the counter tells of 0 s");
    }

    /** A driver that restarts begins its counters at zero, and a counter of few bits wraps: it reads less than before. */
    @Test
    void aCounterThatBeginsAnewCountsFromZeroAndIsTold() throws Exception {
        double[] reads = {4000};
        LogBuilder log = counter(soak(), Cause.HEAT, m -> {
            // The builder adds growth to what it counted: a negative growth is a counter that begins anew at 0.75 s.
            double growth = m.intoStage() == 60 && m.loaded() ? 0.75 - reads[0] : 0;
            return growth;
        });
        reads[0] = 5000 + index(log, "gpu.throttle.heat.time");
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.measured()).isEqualTo("1 episode, 0.7 s");
        assertThat(f.evidence())
                .anySatisfy(e -> assertThat(e.text())
                        .contains("gpu.throttle.heat.time began anew (1 time)", "counted from zero"));
    }

    private static int index(LogBuilder log, String id) {
        List<String> ids = new ArrayList<>();
        log.eachChannel(c -> ids.add(c.id()));
        return ids.indexOf(id);
    }

    @Test
    void aBareHardwareSlowdownNextToAChangeOfLevelIsReportedAndNotCounted() throws Exception {
        LogBuilder near = flag(soak(), "hardware-slowdown", 60)
                .event(93, EventKind.LOAD_LEVEL, LogBuilder.facts("load", "gpu-mix", "level", 1.0, "seconds", 0.1));
        Finding f = judge(near);
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(told(f, "at edges")).contains("hardware slowdown for 3 s");
        LogBuilder far = flag(soak(), "hardware-slowdown", 60)
                .event(99, EventKind.LOAD_LEVEL, LogBuilder.facts("load", "gpu-mix", "level", 1.0, "seconds", 0.1));
        assertThat(judge(far).outcome()).isEqualTo(Outcome.FAIL);
    }

    @Test
    void aBareHardwareSlowdownAtTheStagesEndIsAtAnEdge() throws Exception {
        assertThat(judge(flag(soak(), "hardware-slowdown", 116)).outcome()).isEqualTo(Outcome.PASS);
        assertThat(judge(flag(soak(), "hardware-slowdown", 110)).outcome()).isEqualTo(Outcome.FAIL);
    }

    @Test
    void causesThatTheDeviceDoesNotTellAreListedAsNotMeasured() throws Exception {
        Finding f = judge(soak().without(c -> c.id().endsWith("power-brake"))
                .curve("gpu.throttle.hardware-slowdown", m -> Double.NaN));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(told(f, "measured")).contains("heat (flag)").doesNotContain("power brake");
        assertThat(told(f, "not measured")).contains("power brake", "hardware slowdown", "unexplained clock loss");
        assertThat(f.because()).endsWith("as far as it tells. It tells of: heat.");
    }

    @Test
    void aFlagThatWasSilentForMoreThanATenthOfTheStageMeasuredNothing() throws Exception {
        LogBuilder log = soak();
        for (Cause cause : Cause.values()) {
            log.curve("gpu.throttle." + cause.word(), m -> m.intoStage() > 100 ? Double.NaN : 0);
        }
        assertThat(judge(log).outcome()).isEqualTo(Outcome.NOT_MEASURED);
    }

    /** Chances by hand: 1 - 0.1 s / 1 s, and 1 - 0.1 s / 0.2 s. */
    @Test
    void theChanceOfMissingAShortEpisodeIsPrintedAndSlowSamplingIsSaid() throws Exception {
        assertThat(told(judge(soak()), "sampling"))
                .contains("slower than 5 Hz", "one episode of 0.1 s is missed with a probability of 90.0 %");
        assertThat(told(judge(soak().period(0.2)), "sampling"))
                .contains("probability of 50.0 %")
                .doesNotContain("slower");
        LogBuilder counted = counter(soak(), Cause.HEAT, m -> 0);
        counter(counted, Cause.POWER_BRAKE, m -> 0);
        counter(counted, Cause.HARDWARE_SLOWDOWN, m -> 0);
        assertThat(told(judge(counted), "sampling")).isEmpty();
    }

    /** Relative frequency of a flag up for d, sampled at period p at a random phase, against 1 - d/p. */
    @ParameterizedTest
    @CsvSource({"0.3, 1, 0.7", "0.05, 1, 0.95", "0.9, 1, 0.1", "1, 1, 0", "0.1, 0.2, 0.5"})
    void theChanceOfMissingAnEpisodeIsThatOfAThrow(double episode, double period, double expected) {
        Random random = new Random(4);
        int missed = 0;
        for (int i = 0; i < 40_000; i++) {
            double start = random.nextDouble() * period;
            missed += start > 0 && Math.floor((start + episode) / period) == 0 ? 1 : 0;
        }
        double stated = Throttle.Sampling.missed(episode, period);
        assertThat(stated).isCloseTo(expected, within(1e-12));
        assertThat(missed / 40_000.0).isCloseTo(stated, within(0.01));
    }

    private static LogBuilder clocked(LogBuilder.Curve hertz) {
        return soak().channel(Channel.of("gpu.clock", Metric.GPU_CLOCK, Role.GPU_DISCRETE, "gpu"), hertz)
                .channel(Channel.of("gpu.use", Metric.GPU_UTILIZATION, Role.GPU_DISCRETE, "gpu"), m -> 1);
    }

    private static LogBuilder.Curve clockFalls(double to) {
        return m -> m.intoStage() >= 60 && m.intoStage() < 70 ? to : 1.8e9;
    }

    @Test
    void aClockThatFallsInFullUseWithNothingToExplainItIsACauseOfItsOwn() throws Exception {
        Finding f = judge(clocked(clockFalls(1.2e9)));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.measured()).isEqualTo("1 episode, 10 s");
        assertThat(f.because()).contains("first at 1:30", "no reason that it tells", "20.0 %");
        assertThat(judge(clocked(clockFalls(1.5e9))).outcome()).isEqualTo(Outcome.PASS);
    }

    @Test
    void aFallOfTheClockIsExplainedByAnyFlagByTheLimitOrByRest() throws Exception {
        LogBuilder capped = clocked(clockFalls(1.2e9))
                .curve("gpu.throttle.power-cap", m -> m.intoStage() >= 60 && m.intoStage() < 70 ? 1 : 0);
        assertThat(judge(capped).outcome()).isEqualTo(Outcome.PASS);
        LogBuilder atLimit = clocked(clockFalls(1.2e9)).curve("gpu.power", m -> 143);
        assertThat(judge(atLimit).outcome()).isEqualTo(Outcome.PASS);
        LogBuilder resting = clocked(clockFalls(1.2e9)).curve("gpu.use", m -> m.intoStage() >= 60 ? 0.9 : 1);
        assertThat(judge(resting).outcome()).isEqualTo(Outcome.PASS);
        LogBuilder switched = clocked(m -> m.intoStage() >= 60 && m.intoStage() < 64 ? 1.2e9 : 1.8e9)
                .event(92, EventKind.LOAD_LEVEL, LogBuilder.facts("load", "gpu-mix", "level", 1.0, "seconds", 0.1));
        assertThat(judge(switched).outcome()).isEqualTo(Outcome.PASS);
    }

    @Test
    void aSingleLowReadingOfTheClockIsNoLoss() throws Exception {
        assertThat(judge(clocked(m -> m.intoStage() == 60 ? 3e8 : 1.8e9)).outcome())
                .isEqualTo(Outcome.PASS);
    }

    @Test
    void whereHeatIsNotToldAClockThatFallsIsNotJudged() throws Exception {
        Finding f = judge(clocked(clockFalls(1.2e9)).without(c -> c.id().endsWith("throttle.heat")));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(told(f, "not measured")).contains("heat", "unexplained clock loss");
    }

    @Test
    void theJobSheetCanDeclareItNotApplicable() throws Exception {
        assertThat(judge(soak().jobSheet("not-applicable:\n  throttle: no driver\n"))
                        .outcome())
                .isEqualTo(Outcome.NOT_APPLICABLE);
    }
}

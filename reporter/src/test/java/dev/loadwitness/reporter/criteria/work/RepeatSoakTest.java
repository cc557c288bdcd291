// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.work;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class RepeatSoakTest {
    @TempDir
    Path folder;

    private static final double FIRST_CELSIUS = 72;

    private static LogBuilder soaks() {
        return LogBuilder.laptop()
                .idle("idle", 30)
                .soak("first", 500)
                .idle("rest", 60)
                .asking("cool-down", "second", 500)
                .decision("{rule: simple}")
                .criterion("repeat-soak", "mandatory: yes, at-most: 3 K");
    }

    /** Cold at 40 °C, then flat: the second soak at {@code second}. */
    private static LogBuilder plateaus(double second) {
        return soaks().curve(
                        "gpu.temperature", m -> !m.loaded() ? 40 : m.stage().equals("second") ? second : FIRST_CELSIUS);
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.REPEAT_SOAK);
    }

    @Test
    void theLimitItselfPassesAndMoreFails() throws Exception {
        Finding at = judge(plateaus(75));
        assertThat(at.outcome()).isEqualTo(Outcome.PASS);
        assertThat(at.measured()).isEqualTo("+3.0 K");
        assertThat(at.subject()).isEqualTo("gpu-discrete");
        Finding above = judge(plateaus(75.1));
        assertThat(above.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(above.margin()).isEqualTo("-0.1 K");
        assertThat(above.because())
                .startsWith(
                        "The second soak of the discrete GPU ended 3.1 K hotter than the first (75.1 against 72.0 °C)")
                .contains("pads");
    }

    /** Two readings in steps of 1 K: u = 1/√6 = 0.41 K, guard band 0.82 K. */
    @Test
    void nearTheLimitItIsInconclusiveUnderTheGuardedRule() throws Exception {
        String guarded = "{rule: guarded, guard-factor: 1}";
        assertThat(judge(plateaus(74.1).decision(guarded)).outcome()).isEqualTo(Outcome.PASS);
        assertThat(judge(plateaus(74.3).decision(guarded)).outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(judge(plateaus(75.7).decision(guarded)).outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        Finding f = judge(plateaus(75.9).decision(guarded));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.uncertainty()).isEqualTo("0.8 K");
    }

    @Test
    void onlyTheEndOfEachSoakIsCompared() throws Exception {
        Finding f = judge(soaks().curve(
                        "gpu.temperature",
                        m -> !m.loaded()
                                ? 40
                                : m.stage().equals("second") && m.intoStage() < 390 ? 95 : FIRST_CELSIUS));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("+0.0 K");
    }

    @Test
    void aSecondSoakThatDidNotBeginColdIsInconclusive() throws Exception {
        Finding f = judge(soaks().curve("gpu.temperature", m -> !m.loaded() ? 45 : FIRST_CELSIUS));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("did not begin below 45 °C");
        assertThat(judge(soaks().curve("gpu.temperature", m -> !m.loaded() ? 44.9 : FIRST_CELSIUS))
                        .outcome())
                .isEqualTo(Outcome.PASS);
    }

    @Test
    void anotherPowerIsAnotherLoadWhateverTheTemperature() throws Exception {
        LogBuilder log = plateaus(80)
                .curve("gpu.power", m -> !m.loaded() ? 15 : m.stage().equals("second") ? 148 : 140);
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("at 105.7 % of its power");
        assertThat(judge(plateaus(80)
                                .curve(
                                        "gpu.power",
                                        m -> !m.loaded() ? 15 : m.stage().equals("second") ? 146 : 140))
                        .outcome())
                .isEqualTo(Outcome.FAIL);
    }

    @Test
    void whereNoPowerIsReadTheWorkRateDecides() throws Exception {
        LogBuilder log = plateaus(80)
                .without(c -> c.id().equals("gpu.power") || c.id().equals("gpu.energy"))
                .curve("gpu.work.verified", m -> !m.loaded() ? 0 : m.stage().equals("second") ? 900 : 1000);
        assertThat(judge(log).because()).contains("at 90.0 % of its work rate");
    }

    @Test
    void aSoakThatHadNotLevelledOffIsNoPlateau() throws Exception {
        Finding f = judge(soaks().curve(
                        "gpu.temperature",
                        m -> !m.loaded() ? 40 : m.stage().equals("second") ? 60 + m.intoStage() / 25 : FIRST_CELSIUS));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("had not levelled off: it changed by 2.0 K");
    }

    @Test
    void aCoolerSecondSoakSaysThatSomethingElseChanged() throws Exception {
        assertThat(judge(plateaus(69)).outcome()).isEqualTo(Outcome.PASS);
        Finding f = judge(plateaus(68.9));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("3.1 K cooler").contains("something else changed");
    }

    @Test
    void aSecondSoakThatWasLeftOutIsNotMeasured() throws Exception {
        Finding f = judge(plateaus(72).notDone("second", "it never got cold"));
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(f.because()).contains("left out: it never got cold");
    }

    @Test
    void soaksTooShortForEightMeansAreNotMeasured() throws Exception {
        LogBuilder log = LogBuilder.laptop()
                .idle("idle", 30)
                .soak("first", 300)
                .asking("cool-down", "second", 300)
                .criterion("repeat-soak", "mandatory: yes");
        assertThat(judge(log).outcome()).isEqualTo(Outcome.NOT_MEASURED);
    }

    @Test
    void theRoomIsSaidToMatter() throws Exception {
        assertThat(judge(plateaus(72)).evidence()).anyMatch(e -> e.place().equals("room"));
    }
}

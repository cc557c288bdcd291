// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.power;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.data.Offset.offset;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import java.util.Locale;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

class RailsTest {
    @TempDir
    Path folder;

    private Finding judge(String rail) throws IOException {
        return judge(rail, "mandatory: yes");
    }

    private Finding judge(String rail, String setting) throws IOException {
        LogBuilder log = LogBuilder.gpuSoak(20, "rails", setting).jobSheet("rails: [" + rail + "]\n");
        return Judged.finding(folder, log, Criterion.RAILS);
    }

    private static String fixed(double nominal, double volts) {
        return "{name: main, kind: fixed, nominal: " + nominal + " V, voltage-after: " + volts + " V}";
    }

    /**
     * ATX12V Power Supply Design Guide 2.0, section 3.2.1, Table 2, ± 5 %. The guide prints 3.14 and 3.47 V for 3.3 V; exact
     * are 3.135 and 3.465 V. Limits themselves are allowed.
     */
    @ParameterizedTest
    @CsvSource({"12, 11.40, 12.60, 11.399, 12.601", "5, 4.75, 5.25, 4.749, 5.251", "3.3, 3.135, 3.465, 3.134, 3.466"})
    void aFixedRailWithoutLimitsIsHeldToFivePercent(
            double nominal, double least, double most, double below, double above) throws IOException {
        assertThat(judge(fixed(nominal, least)).outcome()).isEqualTo(Outcome.PASS);
        assertThat(judge(fixed(nominal, most)).outcome()).isEqualTo(Outcome.PASS);
        assertThat(judge(fixed(nominal, below)).outcome()).isEqualTo(Outcome.FAIL);
        assertThat(judge(fixed(nominal, above)).outcome()).isEqualTo(Outcome.FAIL);
        assertThat(judge(fixed(nominal, least)).limitOrigin()).isEqualTo("default (± 5 % of a fixed rail)");
        assertThat(judge(fixed(nominal, below), "mandatory: yes, tolerance: 10 %")
                        .outcome())
                .isEqualTo(Outcome.PASS);
    }

    @Test
    void aRailsOwnLimitsComeFirst() throws IOException {
        String rail =
                "{name: memory, kind: fixed, nominal: 1.35 V, least: 1.31 V, most: 1.39 V, limits-origin: data sheet,"
                        + " state: loaded, voltage-after: %s V}";
        Finding f = judge(String.format(Locale.ROOT, rail, "1.30"));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.subject()).isEqualTo("memory, loaded");
        assertThat(f.limit()).isEqualTo("1.31 V to 1.39 V");
        assertThat(f.limitOrigin()).isEqualTo("job sheet: data sheet");
        assertThat(f.margin()).isEqualTo("-0.01 V");
        assertThat(f.because()).contains("Memory was 1.3 V (loaded), 0.01 V outside its limits");
        assertThat(judge(String.format(Locale.ROOT, rail, "1.31")).outcome()).isEqualTo(Outcome.PASS);
        // One of two limits is enough, and a negative rail has its tolerance on both sides too.
        assertThat(judge("{name: a, most: 1 V, voltage-after: 1.01 V}").outcome())
                .isEqualTo(Outcome.FAIL);
        assertThat(judge("{name: a, least: 1 V, voltage-after: 0.99 V}").outcome())
                .isEqualTo(Outcome.FAIL);
        assertThat(judge("{name: a, nominal: -12 V, tolerance: 10 %, voltage-after: -10.8 V}")
                        .outcome())
                .isEqualTo(Outcome.PASS);
        assertThat(judge("{name: a, nominal: -12 V, tolerance: 10 %, voltage-after: -10.7 V}")
                        .outcome())
                .isEqualTo(Outcome.FAIL);
    }

    /** 5 V ± 5 %, U = 30 mV, w = U: passes up to 5.22 V, fails above 5.28 V. */
    @ParameterizedTest
    @CsvSource({
        "4.77, INCONCLUSIVE",
        "4.78, PASS",
        "5.22, PASS",
        "5.221, INCONCLUSIVE",
        "5.28, INCONCLUSIVE",
        "5.281, FAIL",
        "4.719, FAIL"
    })
    void aReadingWithAnUncertaintyIsGuardBanded(String volts, Outcome outcome) throws IOException {
        Finding f = judge("{name: main 5 V, kind: fixed, nominal: 5 V, voltage-uncertainty: 30 mV, voltage-after: "
                + volts + " V}");
        assertThat(f.outcome()).isEqualTo(outcome);
        assertThat(f.uncertainty()).isEqualTo("0.03 V");
        assertThat(f.conformity()).isPresent();
    }

    /** At a limit half of what the true value may be is beyond it; both limits one u away leave 68.27 %. */
    @Test
    void theProbabilityCountsBothLimits() throws IOException {
        String rail = "{name: a, least: %s V, most: %s V, voltage-uncertainty: 20 mV, voltage-after: 1 V}";
        assertThat(judge(String.format(Locale.ROOT, rail, "0.99", "1.01"))
                        .conformity()
                        .getAsDouble())
                .isCloseTo(0.682689, offset(1e-6));
        assertThat(judge(String.format(Locale.ROOT, rail, "1", "2"))
                        .conformity()
                        .getAsDouble())
                .isCloseTo(0.5, offset(1e-9));
    }

    @Test
    void withoutAnUncertaintyTheFindingSaysThatNoneWasKnown() throws IOException {
        Finding f = judge(fixed(5, 5.2));
        assertThat(f.because()).contains("uncertainty is not on the sheet");
        assertThat(f.uncertainty()).isEmpty();
        assertThat(f.conformity()).isEmpty();
    }

    /** A few tenths of an ohm to ground are normal there, and a shorted board's reading before the repair decides nothing. */
    @Test
    void aCoreRailIsRecordedAndNeverFailsForItsOhms() throws IOException {
        Finding f = judge("{name: graphics core, kind: controlled, state: loaded, resistance-before: 0.05 Ohm,"
                + " resistance-after: 1 mOhm, diode-after: 1 mV, voltage-before: 0 V, voltage-after: 0.85 V,"
                + " known-good: {voltage: 0.86 V, resistance: 0.4 Ohm}}");
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_APPLICABLE);
        assertThat(f.because()).contains("Recorded, not judged", "0.85 V (loaded)", "reads 0.86 V", "off by -0.01 V");
        assertThat(f.evidence())
                .extracting(Evidence::text)
                .containsExactly(
                        "before the repair: 0 V; 50 mOhm to ground, power off",
                        "after the repair: 0.85 V; 1 mOhm to ground, power off; 0.001 V in the diode range, power off",
                        "known-good board: 0.86 V; 400 mOhm to ground, power off");
        Finding fixed = judge("{name: main, kind: fixed, nominal: 5 V, resistance-after: 0 Ohm, voltage-before: 1 V,"
                + " voltage-after: 5 V}");
        assertThat(fixed.outcome()).isEqualTo(Outcome.PASS);
    }

    @Test
    void aCoreRailIsJudgedWhereTheSheetGivesItLimits() throws IOException {
        assertThat(judge("{name: core, kind: controlled, state: loaded, least: 0.8 V, voltage-after: 0.7 V}")
                        .outcome())
                .isEqualTo(Outcome.FAIL);
    }

    @ParameterizedTest
    @CsvSource(
            delimiter = '|',
            value = {
                "{name: a, kind: fixed, nominal: 5 V}                     | no voltage after the repair",
                "{name: a, least: 1 V, voltage-before: 2 V}               | no voltage after the repair",
                "{name: a, kind: fixed, voltage-after: 5 V}               | nothing to be judged by",
                "{name: a, nominal: 5 V, voltage-after: 5 V}              | nothing to be judged by",
                "{name: a, kind: controlled, voltage-after: 0.8 V}        | lacks its state",
                "{name: a, kind: controlled, state: idle}                 | lacks its voltage after the repair",
                "{name: a, kind: controlled}                              | and its state"
            })
    void whatIsMissingMakesItNotMeasured(String rail, String said) throws IOException {
        Finding f = judge(rail);
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(f.because()).contains(said);
    }

    @Test
    void aFixedRailThatIsOffOwesNoVoltage() throws IOException {
        assertThat(judge("{name: main 5 V, kind: fixed, nominal: 5 V, state: off, voltage-after: 0.01 V}")
                        .outcome())
                .isEqualTo(Outcome.NOT_APPLICABLE);
        assertThat(judge("{name: main 5 V, state: off, most: 0.3 V, voltage-after: 4 V}")
                        .outcome())
                .isEqualTo(Outcome.FAIL);
    }

    @Test
    void withoutRailsItIsNotMeasured() throws IOException {
        for (LogBuilder log : new LogBuilder[] {
            LogBuilder.gpuSoak(20, "rails", "mandatory: yes"),
            LogBuilder.gpuSoak(20, "rails", "mandatory: yes").jobSheet("rails:\n")
        }) {
            assertThat(Judged.finding(folder, log, Criterion.RAILS).outcome()).isEqualTo(Outcome.NOT_MEASURED);
        }
    }

    @Test
    void eachRailHasItsOwnFinding() throws IOException {
        LogBuilder log = LogBuilder.gpuSoak(20, "rails", "mandatory: yes")
                .jobSheet("rails: [" + fixed(5, 5) + ", " + fixed(12, 9) + "]\n");
        assertThat(Judged.findings(folder, log, Criterion.RAILS))
                .extracting(Finding::outcome)
                .containsExactly(Outcome.PASS, Outcome.FAIL);
        assertThat(Judged.of(folder, log).verdict().sentence()).startsWith("Main was 9 V, 2.4 V outside");
    }
}

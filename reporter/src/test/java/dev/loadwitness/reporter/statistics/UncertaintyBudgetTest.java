// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static dev.loadwitness.reporter.statistics.ConformityDecision.Side.AT_LEAST;
import static dev.loadwitness.reporter.statistics.ConformityDecision.Side.AT_MOST;
import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatIllegalArgumentException;
import static org.assertj.core.api.Assertions.within;

import dev.loadwitness.reporter.statistics.UncertaintyBudget.Remedy;
import dev.loadwitness.reporter.statistics.UncertaintyBudget.Settlement;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

/** The examples' figures are from memory, recomputed with SciPy 1.17 ({@code checks/cross_check_decision.py}). */
final class UncertaintyBudgetTest {
    private static final double KNOWN = Double.POSITIVE_INFINITY;

    /** JCGM 100:2008 G.4.1, example: relative parts 0.25 %, 0.57 %, 0.82 % of 10, 5 and 15 readings; prints 1.03 % and 19.0. */
    @Test
    void effectiveDegreesOfFreedomMatchTheGuidesExampleOfThreeFactors() {
        UncertaintyBudget budget = UncertaintyBudget.none()
                .statistical("x1", 0.25, 9)
                .statistical("x2", 0.57, 4)
                .statistical("x3", 0.82, 14);
        assertThat(budget.standard()).isCloseTo(1.03, within(0.005));
        assertThat(budget.degreesOfFreedom()).isCloseTo(19.0, within(0.05));
    }

    /** JCGM 100:2008 H.1, end gauge: 25, 9.7, 2.9 and 16.6 nm with 18, 25.6, 50 and 2; prints 32 nm and 16.7. */
    @Test
    void effectiveDegreesOfFreedomMatchTheGuidesEndGauge() {
        UncertaintyBudget budget = UncertaintyBudget.none()
                .statistical("standard", 25, 18)
                .statistical("comparison", 9.7, 25.6)
                .statistical("expansion", 2.9, 50)
                .statistical("temperature", 16.6, 2);
        assertThat(budget.standard()).isCloseTo(32, within(0.5));
        assertThat(budget.degreesOfFreedom()).isCloseTo(16.7, within(0.1));
    }

    /** JCGM 100:2008 table G.2, column 95.45 %. */
    @ParameterizedTest
    @CsvSource({"1, 13.97", "2, 4.53", "3, 3.31", "4, 2.87", "5, 2.65", "10, 2.28", "20, 2.13", "50, 2.05"})
    void coverageFactorMatchesTheGuidesTable(double freedom, double factor) {
        UncertaintyBudget budget = UncertaintyBudget.none().statistical("mean", 3, freedom);
        assertThat(budget.coverageFactor()).isCloseTo(factor, within(0.005));
        assertThat(budget.expanded()).isCloseTo(3 * factor, within(0.015));
    }

    @Test
    void whatIsTakenAsKnownHasFactorTwoAndAddsNoDoubt() {
        UncertaintyBudget known =
                UncertaintyBudget.none().calibration("sensor", 2).rounded("steps of 1 K", 1);
        assertThat(known.standard()).isCloseTo(Math.sqrt(4 + 1 / 12.0), within(1e-15));
        assertThat(known.coverageFactor()).isEqualTo(2);
        assertThat(known.degreesOfFreedom()).isEqualTo(KNOWN);
        assertThat(known.statistical("mean", 0.1, 4).degreesOfFreedom()).isGreaterThan(1e5);
        assertThat(UncertaintyBudget.none().standard()).isZero();
        assertThat(UncertaintyBudget.none().degreesOfFreedom()).isEqualTo(KNOWN);
    }

    /** An even distribution over one step: by its second moment about the reading, not by the formula under test. */
    @Test
    void stepsAreEvenAboutARoundedReadingAndAtWorstAllToOneSideOfIt() {
        double rounded = 0;
        double oneSided = 0;
        int n = 100_000;
        for (int i = 0; i < n; i++) {
            double above = (i + 0.5) / n;
            rounded += (above - 0.5) * (above - 0.5) / n;
            oneSided += above * above / n;
        }
        assertThat(UncertaintyBudget.none().rounded("r", 1).standard()).isCloseTo(Math.sqrt(rounded), within(1e-9));
        assertThat(UncertaintyBudget.none().stepped("s", 1).standard()).isCloseTo(Math.sqrt(oneSided), within(1e-9));
    }

    /** Scatter of 1 with 4 degrees of freedom, limit 10: w = 2.87. */
    @Test
    void fewReadingsWidenTheGuardBandAndKeepItsRisk() {
        UncertaintyBudget few = UncertaintyBudget.none().statistical("mean", 1, 4);
        ConformityDecision near = ConformityDecision.decide(AT_MOST, 7.5, 10, few, 1);
        assertThat(near.outcome()).isEqualTo(ConformityDecision.Outcome.INSIDE_GUARD_BAND);
        assertThat(near.guardBand()).isCloseTo(2.869, within(0.001));
        assertThat(ConformityDecision.decide(
                                AT_MOST, 7.5, 10, UncertaintyBudget.none().calibration("known", 1), 1)
                        .outcome())
                .isEqualTo(ConformityDecision.Outcome.CONFORMS);
        ConformityDecision onBorder = ConformityDecision.decide(AT_MOST, 10 - near.guardBand() - 1e-9, 10, few, 1);
        assertThat(onBorder.outcome()).isEqualTo(ConformityDecision.Outcome.CONFORMS);
        assertThat(onBorder.specificRisk()).isCloseTo(onBorder.largestRisk(), within(1e-7));
        // 3.747 standard uncertainties leave 1 % with 4 degrees of freedom (check-values C.1).
        assertThat(ConformityDecision.decide(AT_LEAST, 13.747, 10, few, 1).specificRisk())
                .isCloseTo(0.01, within(1e-5));
    }

    @Test
    void simpleAcceptanceHasNoGuardBandHoweverFewTheReadings() {
        UncertaintyBudget few = UncertaintyBudget.none().statistical("mean", 1, 1);
        ConformityDecision decision = ConformityDecision.decide(AT_MOST, 9.999, 10, few, 0);
        assertThat(decision.outcome()).isEqualTo(ConformityDecision.Outcome.CONFORMS);
        assertThat(decision.largestRisk()).isEqualTo(0.5);
    }

    /** u = 0.3 and 0.4: room 0.8 allows 0.4 in all, and so √(0.4² − 0.3²) = 0.26458 of scatter: 2.2857 times the data. */
    @Test
    void scatterIsSettledByMoreDataAsLongAsTheRestLeavesRoom() {
        UncertaintyBudget budget =
                UncertaintyBudget.none().calibration("sensor", 0.3).statistical("mean", 0.4, 1e9);
        Settlement s = settlement(budget, 0.8);
        assertThat(s.remedy()).isEqualTo(Remedy.MORE_DATA);
        assertThat(s.standardUncertainty()).isCloseTo(0.264575, within(1e-6));
        assertThat(s.timesTheData()).isCloseTo(2.285714, within(1e-6));
        // And with that much it is settled.
        assertThat(ConformityDecision.decide(
                                AT_MOST,
                                9.2,
                                10,
                                UncertaintyBudget.none()
                                        .calibration("sensor", 0.3)
                                        .statistical("mean", s.standardUncertainty() - 1e-9, 1e9),
                                1)
                        .outcome())
                .isEqualTo(ConformityDecision.Outcome.CONFORMS);
    }

    @Test
    void whereTheSensorItselfIsTooWrongOnlyAnotherCalibrationSettlesIt() {
        UncertaintyBudget budget =
                UncertaintyBudget.none().calibration("sensor", 2).rounded("steps of 1 K", 1);
        Settlement s = settlement(budget, 3);
        assertThat(s.remedy()).isEqualTo(Remedy.BETTER_CALIBRATION);
        assertThat(s.standardUncertainty()).isCloseTo(Math.sqrt(2.25 - 1 / 12.0), within(1e-12));
        // Half a kelvin of room: the steps alone take 0.58 K.
        assertThat(settlement(budget, 0.5).remedy()).isEqualTo(Remedy.NONE);
        assertThat(settlement(UncertaintyBudget.none().rounded("steps of 1 K", 1), 0.3)
                        .remedy())
                .isEqualTo(Remedy.NONE);
        assertThat(settlement(budget, 0).remedy()).isEqualTo(Remedy.NONE);
    }

    private static Settlement settlement(UncertaintyBudget budget, double room) {
        return ConformityDecision.decide(AT_MOST, 10 - room, 10, budget, 1)
                .settlement(budget)
                .orElseThrow();
    }

    @Test
    void whatWasDecidedNeedsNoSettling() {
        UncertaintyBudget budget = UncertaintyBudget.none().calibration("sensor", 1);
        assertThat(ConformityDecision.decide(AT_MOST, 7, 10, budget, 1).settlement(budget))
                .isEmpty();
        assertThat(ConformityDecision.decide(AT_MOST, 13, 10, budget, 1).settlement(budget))
                .isEmpty();
    }

    @Test
    void aMeanHasTheDegreesOfFreedomOfItsEffectiveCountAndNeverLessThanOne() {
        double[] steady = {1, -1, 1, -1, 1, -1, 1, -1, 1, -1};
        UncertaintyBudget budget = UncertaintyBudget.none().mean("rate", CorrelatedMean.of(steady), -2);
        assertThat(budget.degreesOfFreedom()).isEqualTo(9);
        assertThat(budget.standard()).isCloseTo(2 * Math.sqrt(10 / 9.0) / Math.sqrt(9), within(1e-12));
        double[] trend = {1, 2, 3, 4, 5, 6, 7, 8, 9, 10};
        assertThat(UncertaintyBudget.none()
                        .mean("rate", CorrelatedMean.of(trend), 1)
                        .degreesOfFreedom())
                .isEqualTo(1);
    }

    @Test
    void nonsenseIsRefused() {
        assertThatIllegalArgumentException()
                .isThrownBy(() -> UncertaintyBudget.none().statistical("mean", 1, 0.5))
                .withMessageContaining("degrees of freedom of mean");
        assertThatIllegalArgumentException()
                .isThrownBy(() -> UncertaintyBudget.none().calibration("sensor", -1));
        assertThatIllegalArgumentException()
                .isThrownBy(() -> UncertaintyBudget.none().mean("rate", CorrelatedMean.of(1, 2, 3), 1));
    }
}

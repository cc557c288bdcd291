// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static dev.loadwitness.reporter.statistics.ConformityDecision.Outcome.CONFORMS;
import static dev.loadwitness.reporter.statistics.ConformityDecision.Outcome.DOES_NOT_CONFORM;
import static dev.loadwitness.reporter.statistics.ConformityDecision.Outcome.INSIDE_GUARD_BAND;
import static dev.loadwitness.reporter.statistics.ConformityDecision.Side.AT_LEAST;
import static dev.loadwitness.reporter.statistics.ConformityDecision.Side.AT_MOST;
import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatIllegalArgumentException;
import static org.assertj.core.api.Assertions.within;

import java.util.Random;
import org.junit.jupiter.api.RepeatedTest;
import org.junit.jupiter.api.RepetitionInfo;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvFileSource;
import org.junit.jupiter.params.provider.CsvSource;

final class ConformityDecisionTest {
    /** With an uncertainty that is taken as known. */
    private static ConformityDecision decide(
            ConformityDecision.Side side, double value, double limit, double u, double guardFactor) {
        return ConformityDecision.decide(
                side, value, limit, UncertaintyBudget.none().calibration("known", u), guardFactor);
    }

    @ParameterizedTest(name = "{0}")
    @CsvFileSource(resources = "conformity-examples.csv")
    void conformanceProbabilityMatchesTheGuidesExamples(
            String example,
            ConformityDecision.Side side,
            double value,
            double limit,
            double standardUncertainty,
            double probability,
            double tolerance) {
        ConformityDecision decision = decide(side, value, limit, standardUncertainty, 0);
        assertThat(decision.conformanceProbability()).isCloseTo(probability, within(tolerance));
    }

    @ParameterizedTest(name = "{0}")
    @CsvFileSource(resources = "ilac-g8-rules.csv")
    void riskOnTheAcceptanceLimitMatchesTheGuidelinesTable(String rule, double r, double risk, double tolerance) {
        double u = 0.5;
        double onTheLimit = 10 - r * 2 * u;
        ConformityDecision decision = decide(AT_MOST, onTheLimit, 10, u, r);
        assertThat(decision.outcome()).isEqualTo(CONFORMS);
        assertThat(decision.guardBand()).isCloseTo(r, within(1e-15));
        assertThat(decision.specificRisk()).isCloseTo(risk, within(tolerance));
        assertThat(decision.conformanceProbability()).isCloseTo(1 - risk, within(tolerance));
    }

    /** Limit 84, u = 1, w = U = 2. */
    @ParameterizedTest(name = "{0} {1}: {2}")
    @CsvSource({
        "AT_MOST, 81.999, CONFORMS",
        "AT_MOST, 82, CONFORMS",
        "AT_MOST, 82.001, INSIDE_GUARD_BAND",
        "AT_MOST, 84, INSIDE_GUARD_BAND",
        "AT_MOST, 86, INSIDE_GUARD_BAND",
        "AT_MOST, 86.001, DOES_NOT_CONFORM",
        "AT_LEAST, 86.001, CONFORMS",
        "AT_LEAST, 86, CONFORMS",
        "AT_LEAST, 85.999, INSIDE_GUARD_BAND",
        "AT_LEAST, 82, INSIDE_GUARD_BAND",
        "AT_LEAST, 81.999, DOES_NOT_CONFORM"
    })
    void guardBandLiesOnBothSidesOfTheLimit(
            ConformityDecision.Side side, double value, ConformityDecision.Outcome outcome) {
        assertThat(decide(side, value, 84, 1, 1).outcome()).isEqualTo(outcome);
    }

    @Test
    void riskIsThatOfTheDecisionTaken() {
        ConformityDecision accepted = decide(AT_MOST, 82, 84, 1, 1);
        assertThat(accepted.specificRisk()).isCloseTo(0.02275, within(5e-6));
        ConformityDecision rejected = decide(AT_MOST, 87, 84, 1, 1);
        assertThat(rejected.specificRisk()).isCloseTo(0.00135, within(5e-6));
        assertThat(rejected.specificRisk()).isEqualTo(rejected.conformanceProbability());
        assertThat(decide(AT_MOST, 84, 84, 1, 1).specificRisk()).isNaN();
    }

    /** Eight standard uncertainties: 6.2209605742717e-16 by SciPy 1.17, where 1 − p has one digit left. */
    @Test
    void smallRiskKeepsItsDigits() {
        assertThat(decide(AT_MOST, 76, 84, 1, 1).specificRisk()).isCloseTo(6.2209605742717e-16, within(1e-25));
    }

    @Test
    void exactValueIsDecidedByTheLimitAlone() {
        assertThat(decide(AT_MOST, 84, 84, 0, 1))
                .isEqualTo(new ConformityDecision(AT_MOST, 84, 84, 0, 1, 0, CONFORMS, 1, 0));
        assertThat(decide(AT_MOST, 84.1, 84, 0, 1))
                .isEqualTo(new ConformityDecision(AT_MOST, 84.1, 84, 0, 1, 0, DOES_NOT_CONFORM, 0, 0));
        assertThat(decide(AT_LEAST, 84, 84, 0, 1).outcome()).isEqualTo(CONFORMS);
        assertThat(decide(AT_LEAST, 83.9, 84, 0, 1).outcome()).isEqualTo(DOES_NOT_CONFORM);
    }

    /** In doubles 0.3 − 0.1 is below 0.2, and 0.1 + 0.2 above 0.3. */
    @Test
    void bordersAreComparedAsOnPaper() {
        assertThat(decide(AT_MOST, 0.2, 0.3, 0.05, 1).outcome()).isEqualTo(CONFORMS);
        assertThat(decide(AT_LEAST, 0.3, 0.2, 0.05, 1).outcome()).isEqualTo(CONFORMS);
    }

    @RepeatedTest(20)
    void lowerLimitIsTheMirrorImageOfTheUpper(RepetitionInfo repetition) {
        Random random = new Random(repetition.getCurrentRepetition());
        double value = random.nextGaussian() * 10;
        double limit = random.nextGaussian() * 10;
        double u = random.nextDouble() * 5;
        double r = random.nextDouble() * 2;
        ConformityDecision upper = decide(AT_MOST, value, limit, u, r);
        ConformityDecision lower = decide(AT_LEAST, -value, -limit, u, r);
        ConformityDecision mirrored = new ConformityDecision(
                AT_MOST,
                -lower.value(),
                -lower.limit(),
                u,
                r,
                lower.guardBand(),
                lower.outcome(),
                lower.conformanceProbability(),
                lower.specificRisk());
        assertThat(mirrored).isEqualTo(upper); // a record's equality takes two NaN for equal
    }

    @Test
    void simpleAcceptanceNeverEndsInsideTheBand() {
        assertThat(decide(AT_MOST, 84, 84, 1, 0).outcome()).isEqualTo(CONFORMS);
        assertThat(decide(AT_MOST, 84.000001, 84, 1, 0).outcome()).isEqualTo(DOES_NOT_CONFORM);
        assertThat(decide(AT_MOST, 84.000001, 84, 1, 0.1).outcome()).isEqualTo(INSIDE_GUARD_BAND);
    }

    @Test
    void nonsenseIsRefused() {
        assertThatIllegalArgumentException().isThrownBy(() -> decide(AT_MOST, Double.NaN, 84, 1, 1));
        assertThatIllegalArgumentException().isThrownBy(() -> decide(AT_MOST, 84, Double.NaN, 1, 1));
        assertThatIllegalArgumentException().isThrownBy(() -> decide(AT_MOST, 84, 84, -1, 1));
        assertThatIllegalArgumentException().isThrownBy(() -> decide(AT_MOST, 84, 84, Double.NaN, 1));
        assertThatIllegalArgumentException().isThrownBy(() -> decide(AT_MOST, 84, 84, 1, -1));
    }
}

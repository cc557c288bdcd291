// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;
import static org.assertj.core.api.Assertions.within;

import dev.loadwitness.reporter.statistics.ConformityDecision.Outcome;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

final class ConformityDecisionTest {
    /** JCGM 106:2012, clause 7: Zener diode (upper limit) and burst strength (lower limit); inputs from memory. */
    @Test
    void conformanceProbabilityMatchesTheWorkedExamplesOfJcgm106() {
        assertThat(ConformityDecision.upperLimit(-5.40, -5.47, 0.05, 0).conformanceProbability())
                .isCloseTo(0.92, within(0.005));
        assertThat(ConformityDecision.lowerLimit(490, 509.7, 8.6, 0).conformanceProbability())
                .isCloseTo(0.98901, within(5e-6));
        assertThat(ConformityDecision.probabilityBetween(12.5, 16.3, 13.6, 1.8)).isCloseTo(0.66263, within(5e-6));
    }

    /** ILAC-G8:09/2019, table 1: specific risk at the acceptance limit, by guard factor; recomputed as 1 − Φ(2r). */
    @ParameterizedTest(name = "guard factor {0}")
    @CsvSource({"3, 9.87e-10", "1.5, 0.00135", "1, 0.02275", "0.83, 0.04846", "0, 0.5"})
    void riskAtTheAcceptanceLimitIsThatOfTheIlacTable(double r, double risk) {
        double u = 0.7;
        double atAcceptanceLimit = 90 - r * 2 * u;
        ConformityDecision decision = ConformityDecision.upperLimit(90, atAcceptanceLimit - 1e-9, u, r);
        assertThat(decision.outcome()).isEqualTo(Outcome.CONFORMS);
        assertThat(1 - decision.conformanceProbability()).isCloseTo(risk, within(risk * 0.01));
    }

    @Test
    void betweenTheGuardBandsNothingIsDecided() {
        assertThat(ConformityDecision.upperLimit(84, 83.0, 0.5, 1).outcome()).isEqualTo(Outcome.CONFORMS);
        assertThat(ConformityDecision.upperLimit(84, 83.1, 0.5, 1).outcome()).isEqualTo(Outcome.INSIDE_GUARD_BAND);
        assertThat(ConformityDecision.upperLimit(84, 85.0, 0.5, 1).outcome()).isEqualTo(Outcome.INSIDE_GUARD_BAND);
        assertThat(ConformityDecision.upperLimit(84, 85.1, 0.5, 1).outcome()).isEqualTo(Outcome.DOES_NOT_CONFORM);
    }

    @Test
    void withoutUncertaintyTheLimitItselfStillConforms() {
        assertThat(ConformityDecision.upperLimit(84, 84, 0, 1))
                .isEqualTo(new ConformityDecision(Outcome.CONFORMS, 1, 0));
        assertThat(ConformityDecision.upperLimit(84, 84.001, 0, 1).outcome()).isEqualTo(Outcome.DOES_NOT_CONFORM);
    }

    @Test
    void whatIsNotANumberIsRefused() {
        assertThatThrownBy(() -> ConformityDecision.upperLimit(84, Double.NaN, 1, 1))
                .isInstanceOf(IllegalArgumentException.class);
        assertThatThrownBy(() -> ConformityDecision.upperLimit(84, 80, Double.NaN, 1))
                .isInstanceOf(IllegalArgumentException.class);
        assertThatThrownBy(() -> ConformityDecision.upperLimit(84, 80, -1, 1))
                .isInstanceOf(IllegalArgumentException.class);
    }
}

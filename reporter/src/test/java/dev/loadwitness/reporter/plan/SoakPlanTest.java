// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.plan;

import static org.assertj.core.api.Assertions.assertThat;

import java.util.List;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

final class SoakPlanTest {
    private static final double MINUTE = 60;

    /** By hand: 8 min · −ln 0.05 = 23.97 min. */
    @Test
    void faultEveryEightMinutesNeedsTwentyFourMinutesAtNinetyFivePercent() {
        SoakPlan plan = new SoakPlan(new Basis.Known(8 * MINUTE), 0.95);
        assertThat(plan.soakSeconds()).isEqualTo(24 * MINUTE);
        assertThat(plan.sentence()).contains("every 8 min", "95 %", "a soak of 24 min");
        assertThat(plan.table()).extracting(SoakPlan.Row::confidence).containsExactly(0.8, 0.9, 0.95, 0.99);
        assertThat(plan.table()).extracting(r -> r.soakSeconds() / MINUTE).containsExactly(13.0, 19.0, 24.0, 37.0);
    }

    /** By hand: 3 · 47/3 min · (20^(1/3) − 1) = 47 · 1.71442 = 80.58 min; were the mean known, 46.93 min. */
    @Test
    void fewObservedIntervalsAskForMoreThanTheirMeanWould() {
        SoakPlan plan = new SoakPlan(new Basis.Observed(List.of(7 * MINUTE, 9 * MINUTE, 31 * MINUTE)), 0.95);
        assertThat(plan.soakSeconds()).isEqualTo(81 * MINUTE);
        assertThat(plan.assumptions()).anySatisfy(a -> assertThat(a).contains("47 min would do"));
        assertThat(plan.warnings()).isEmpty();
    }

    /** NIST/SEMATECH e-Handbook 8.3.1.1: 200 h at 90 %: 460.5 h without failures, 1598.7 h with four allowed. */
    @ParameterizedTest
    @CsvSource({"0, 460.5, 461", "4, 1598.7, 1599"})
    void objectiveIsTheHandbooksTestLength(int failures, double least, double most) {
        SoakPlan plan = new SoakPlan(new Basis.Objective(200 * 3600, failures), 0.90);
        assertThat(plan.soakSeconds() / 3600).isBetween(least, most);
        assertThat(plan.assumptions())
                .anySatisfy(a -> assertThat(a).contains("so few failures with a probability of 10 % at most"))
                .noneSatisfy(a -> assertThat(a).contains("A clean soak"));
        assertThat(plan.longerThanAnyProcedure()).isTrue();
        assertThat(plan.warnings()).anySatisfy(w -> assertThat(w).contains("more than a week (168 h)"));
    }

    @Test
    void intervalsThatAreAllAlikeAreNoConstantRate() {
        SoakPlan alike = new SoakPlan(new Basis.Observed(List.of(600.0, 660.0, 720.0)), 0.95);
        assertThat(alike.warnings())
                .anySatisfy(w -> assertThat(w).contains("The intervals are alike (10 min to 12 min)"));
    }

    @Test
    void soakShorterThanWarmingUpIsWarnedOf() {
        assertThat(new SoakPlan(new Basis.Known(60), 0.95).warnings())
                .anySatisfy(w -> assertThat(w).contains("not warm through"));
    }

    @ParameterizedTest
    @CsvSource({
        "95, 95 s",
        "300, 5 min",
        "301, 5 min 1 s",
        "601, 11 min",
        "8280, 2 h 18 min",
        "7200, 2 h",
        "86400, 1 day",
        "270001, 3 days 3 h 1 min"
    })
    void spansAreRoundedUpAndSaidInDays(double seconds, String said) {
        assertThat(Span.write(seconds)).isEqualTo(said);
    }

    @ParameterizedTest
    @CsvSource({"8min, 480", "1.5h, 5400", "2 days, 172800", "90s, 90"})
    void spansAreRead(String text, double seconds) {
        assertThat(Span.parse(text)).hasValue(seconds);
    }

    @ParameterizedTest
    @CsvSource({"8", "8 weeks", "-3min", "0min", "min"})
    void whatIsNoSpanIsRefused(String text) {
        assertThat(Span.parse(text)).isEmpty();
    }
}

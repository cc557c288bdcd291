// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static org.assertj.core.api.Assertions.assertThat;

import java.util.Locale;
import java.util.Random;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

/**
 * How often a value that lies exactly on its limit is passed: what the rule promises, Φ(−2r), where the budget is right. The
 * main method prints the table of {@code docs/computation.md}.
 */
final class FalsePassRateTest {
    private static final double LIMIT = 84;
    private static final int LONG_RUNS = 20_000;
    private static final long SEED = 20261125;

    /** Where the error of one measurement comes from. */
    enum Source {
        /** 2 K of calibration, once a run, and readings rounded to whole kelvins. */
        SENSOR {
            @Override
            Reading measure(Random random) {
                double shown = LIMIT + 2 * random.nextGaussian() + random.nextDouble() - 0.5;
                return new Reading(
                        shown, UncertaintyBudget.none().calibration("sensor", 2).rounded("steps", 1));
            }
        },
        /** Steps alone: the error is never larger than half of one, and the rule takes it for normal. */
        STEPS {
            @Override
            Reading measure(Random random) {
                return new Reading(
                        LIMIT + random.nextDouble() - 0.5,
                        UncertaintyBudget.none().rounded("steps", 1));
            }
        },
        /** Eight independent readings. */
        FEW {
            @Override
            Reading measure(Random random) {
                return series(random, 8, 0);
            }
        },
        /** A first-order series of 60 with 0.5 from one to the next: ten minutes of ten-second means. */
        RESEMBLING {
            @Override
            Reading measure(Random random) {
                return series(random, 60, 0.5);
            }
        },
        /** The same with 0.9: as slow as anything that still counts as level. */
        SLUGGISH {
            @Override
            Reading measure(Random random) {
                return series(random, 60, 0.9);
            }
        },
        /** As slow, and three minutes of it. */
        SLUGGISH_SHORT {
            @Override
            Reading measure(Random random) {
                return series(random, 20, 0.9);
            }
        },
        /** As slow, and the fewest values that are judged: as good as one. */
        SLUGGISH_SHORTEST {
            @Override
            Reading measure(Random random) {
                return series(random, 8, 0.9);
            }
        };

        abstract Reading measure(Random random);
    }

    record Reading(double value, UncertaintyBudget budget) {}

    private static Reading series(Random random, int count, double correlation) {
        double[] values = new double[count];
        double[] errors = AutoregressiveSeries.of(random, count, correlation);
        for (int i = 0; i < count; i++) {
            values[i] = LIMIT + errors[i];
        }
        CorrelatedMean mean = CorrelatedMean.of(values);
        return new Reading(mean.mean(), UncertaintyBudget.none().mean("mean", mean, 1));
    }

    /** Share of passes; with {@code known}, as if every uncertainty were known exactly, which is what k = 2 takes it for. */
    private static double passed(Source source, double guardFactor, int runs, boolean known) {
        Random random = new Random(SEED);
        int passed = 0;
        for (int i = 0; i < runs; i++) {
            Reading reading = source.measure(random);
            UncertaintyBudget budget = known
                    ? UncertaintyBudget.none()
                            .calibration("known", reading.budget().standard())
                    : reading.budget();
            ConformityDecision decision = ConformityDecision.decide(
                    ConformityDecision.Side.AT_MOST, reading.value(), LIMIT, budget, guardFactor);
            passed += decision.outcome() == ConformityDecision.Outcome.CONFORMS ? 1 : 0;
        }
        return (double) passed / runs;
    }

    /**
     * The most that may be seen in 2,000 runs of a true rate: four standard deviations of a binomial above it. What is allowed
     * beyond the promise (resemblance has to be estimated from the same few values) is in the table of the documentation.
     */
    @ParameterizedTest(name = "{0}, factor {1}")
    @CsvSource({
        "SENSOR, 0, 0.5, 0.5",
        "SENSOR, 0.83, 0.0485, 0.0485",
        "SENSOR, 1, 0.0228, 0.0228",
        "STEPS, 1, 0, 0",
        "FEW, 1, 0.006, 0.0228",
        "RESEMBLING, 1, 0.008, 0.0228",
        "SLUGGISH, 0.83, 0.015, 0.0485",
        "SLUGGISH, 1, 0.008, 0.0228",
        "SLUGGISH_SHORT, 1, 0.01, 0.0235",
        "SLUGGISH_SHORTEST, 1, 0.0228, 0.05"
    })
    void aValueOnTheLimitPassesAsRarelyAsTheRuleSays(Source source, double guardFactor, double least, double most) {
        int runs = 2_000;
        double rate = passed(source, guardFactor, runs, false);
        assertThat(rate).isLessThanOrEqualTo(most + 4 * Math.sqrt(most * (1 - most) / runs));
        assertThat(rate).isGreaterThanOrEqualTo(least - 4 * Math.sqrt(least * (1 - least) / runs));
    }

    public static void main(String... arguments) {
        System.out.println("| error | r | promised | passed | with k = 2 |\n| --- | --- | --- | --- | --- |");
        for (Source source : Source.values()) {
            for (double r : new double[] {0, 0.83, 1}) {
                System.out.printf(
                        Locale.ROOT,
                        "| %s | %s | %.2f %% | %.2f %% | %.2f %% |%n",
                        source.name().toLowerCase(Locale.ROOT),
                        r,
                        100 * Quantiles.normalProbability(-2 * r),
                        100 * passed(source, r, LONG_RUNS, false),
                        100 * passed(source, r, LONG_RUNS, true));
            }
        }
    }
}

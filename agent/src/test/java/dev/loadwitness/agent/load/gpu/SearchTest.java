// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.gpu;

import static org.assertj.core.api.Assertions.assertThat;

import java.util.ArrayDeque;
import java.util.ArrayList;
import java.util.Deque;
import java.util.List;
import java.util.Optional;
import java.util.Random;
import java.util.function.ToDoubleFunction;
import org.junit.jupiter.api.Test;

/** On made-up power surfaces: which point is held, and how much time it takes to find it. */
final class SearchTest {
    private static final int MIXES = 15;
    private static final int SHAPES = 6;

    /** One hill, steeper to one side. */
    private static double hill(Search.Point p, int topMix, int topShape) {
        double mix = p.mix() - topMix;
        double shape = p.shape() - topShape;
        return 140 - (mix > 0 ? 3 : 2) * Math.abs(mix) - 1.5 * shape * shape;
    }

    private static Search searched(Search search, ToDoubleFunction<Search.Point> surface, List<Search.Point> trials) {
        for (Optional<Search.Point> next = search.next(); next.isPresent(); next = search.next()) {
            trials.add(next.get());
            search.tried(next.get(), surface.applyAsDouble(next.get()));
        }
        return search;
    }

    @Test
    void everyTopOfOneHillIsFoundInFewTrials() {
        for (int mix = 0; mix < MIXES; mix++) {
            for (int shape = 0; shape < SHAPES; shape++) {
                int top = mix;
                int best = shape;
                List<Search.Point> trials = new ArrayList<>();
                Search search =
                        searched(new Search(MIXES, SHAPES, new Search.Point(6, 3)), p -> hill(p, top, best), trials);
                assertThat(search.heaviest()).isEqualTo(new Search.Point(mix, shape));
                assertThat(trials).hasSizeLessThanOrEqualTo(30).doesNotHaveDuplicates();
            }
        }
    }

    @Test
    void bothEndsAreTriedWhateverTheStartSays() {
        List<Search.Point> trials = new ArrayList<>();
        searched(new Search(MIXES, SHAPES, new Search.Point(6, 3)), p -> p.mix() == MIXES - 1 ? 200 : 100, trials);
        assertThat(trials).contains(new Search.Point(0, 3), new Search.Point(MIXES - 1, 3));
    }

    @Test
    void aPointThatCannotBeTriedIsNeverChosen() {
        Search search = searched(
                new Search(MIXES, SHAPES, new Search.Point(6, 3)),
                p -> p.mix() == 6 ? Double.NaN : hill(p, 6, 3),
                new ArrayList<>());
        assertThat(search.heaviest().mix()).isNotEqualTo(6);
    }

    @Test
    void aSingleMixIsSearchedByShapeAlone() {
        List<Search.Point> trials = new ArrayList<>();
        Search search = searched(new Search(1, SHAPES, new Search.Point(0, 3)), p -> hill(p, 0, 5), trials);
        assertThat(search.heaviest()).isEqualTo(new Search.Point(0, 5));
        assertThat(trials).hasSizeLessThanOrEqualTo(4);
    }

    /**
     * A part that reports the mean of the last second once a second, read once a second, with a noise of half a percent: what
     * is held draws at most 2 % less than the heaviest that there is.
     */
    @Test
    void aLaggingAndNoisyReadingStillFindsThePlateau() {
        for (int seed = 0; seed < 200; seed++) {
            Random random = new Random(seed);
            int topMix = random.nextInt(MIXES);
            int topShape = random.nextInt(SHAPES);
            Search search = new Search(MIXES, SHAPES, new Search.Point(random.nextInt(MIXES), 3));
            LaggingPower power = new LaggingPower(random);
            for (Optional<Search.Point> next = search.next(); next.isPresent(); next = search.next()) {
                search.tried(next.get(), power.dwell(hill(next.get(), topMix, topShape)));
            }
            assertThat(hill(search.heaviest(), topMix, topShape))
                    .as("seed %d", seed)
                    .isGreaterThanOrEqualTo(0.98 * 140);
            assertThat(power.seconds).as("seed %d", seed).isLessThan(150);
        }
    }

    /** Without the time to settle, the reading is of the trial before: the test above can fail. */
    @Test
    void whatIsReadTooEarlyIsOfTheTrialBefore() {
        LaggingPower power = new LaggingPower(new Random(1));
        power.dwell(50);
        for (int i = 0; i < 13; i++) {
            power.tick(50);
        }
        assertThat(power.firstReadingAfter(140)).isLessThan(120);
        assertThat(power.dwell(140)).isBetween(138.0, 142.0);
    }

    private static final class LaggingPower {
        private static final double STEP = 0.05;
        private final Random random;
        private final Deque<Double> lastSecond = new ArrayDeque<>();
        private double seconds;
        private long ticks;

        LaggingPower(Random random) {
            this.random = random;
        }

        /** Lets one twentieth of a second pass. */
        private Optional<Double> tick(double watts) {
            lastSecond.add(watts);
            if (lastSecond.size() > 20) {
                lastSecond.remove();
            }
            ticks++;
            seconds += STEP;
            if (ticks % 20 != 7) {
                return Optional.empty();
            }
            double mean = lastSecond.stream().mapToDouble(w -> w).average().orElseThrow();
            return Optional.of(mean * (1 + 0.005 * random.nextGaussian()));
        }

        double firstReadingAfter(double watts) {
            while (true) {
                Optional<Double> reading = tick(watts);
                if (reading.isPresent()) {
                    return reading.get();
                }
            }
        }

        double dwell(double watts) {
            Dwell dwell = new Dwell((long) (seconds * 1e9));
            while (!dwell.isOver((long) (seconds * 1e9))) {
                tick(watts).ifPresent(w -> dwell.power((long) (seconds * 1e9), w));
            }
            return dwell.watts();
        }
    }
}

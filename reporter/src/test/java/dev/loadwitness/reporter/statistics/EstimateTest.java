// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.within;

import java.util.Map;
import org.junit.jupiter.api.Test;

/** By hand, after GUM (JCGM 100:2008) 5.1.2 and 5.2.2 with correlation 1 for one source. */
class EstimateTest {
    @Test
    void independentSourcesAddAsSquares() {
        Estimate a = new Estimate(74, Map.of("scatter a", 3.0, "sensor a", 2.0));
        Estimate b = new Estimate(70, Map.of("scatter b", 4.0));
        assertThat(b.minus(a).value()).isEqualTo(-4);
        assertThat(b.minus(a).standardUncertainty()).isCloseTo(Math.sqrt(9 + 4 + 16), within(1e-12));
        assertThat(b.sharedWith(a)).isEmpty();
    }

    @Test
    void oneSourceInBothCancelsAsFarAsBothMoveWithIt() {
        Estimate a = new Estimate(74, Map.of("scatter a", 3.0, "sensor", 2.0));
        Estimate b = new Estimate(70, Map.of("scatter b", 4.0, "sensor", 2.0));
        assertThat(b.minus(a).standardUncertainty()).isCloseTo(5, within(1e-12));
        Estimate c = new Estimate(70, Map.of("scatter b", 4.0, "sensor", 14.0));
        assertThat(c.minus(a).standardUncertainty()).isCloseTo(13, within(1e-12));
        assertThat(c.sharedWith(a)).containsExactly("sensor");
    }

    @Test
    void sourceThatMovesBothApartAddsUp() {
        Estimate a = new Estimate(1, Map.of("meter", 2.0));
        Estimate b = new Estimate(1, Map.of("meter", -1.0));
        assertThat(b.minus(a).standardUncertainty()).isEqualTo(3);
    }

    @Test
    void exactlyTheFactorIsNotBeyondIt() {
        assertThat(new Estimate(-6, Map.of("s", 3.0)).isBeyond(2)).isFalse();
        assertThat(new Estimate(-6.001, Map.of("s", 3.0)).isBeyond(2)).isTrue();
        assertThat(new Estimate(0, Map.of()).isBeyond(2)).isFalse();
    }
}

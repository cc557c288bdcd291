// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.verdict;

import static org.assertj.core.api.Assertions.assertThat;

import java.time.Instant;
import java.util.List;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.ValueSource;

final class LastWorkTest {
    @Test
    void latestDatedEntryCounts() {
        LastWork work = LastWork.of(List.of("2026-11-25T15:00+01:00 PU3 replaced", "2026-11-20 paste", "pads"))
                .orElseThrow();
        assertThat(work.moment()).isEqualTo(Instant.parse("2026-11-25T14:00:00Z"));
        assertThat(work.isAfter(Instant.parse("2026-11-25T13:59:59Z"))).isTrue();
        assertThat(work.isAfter(Instant.parse("2026-11-25T14:00:00Z"))).isFalse();
    }

    @Test
    void dateAloneBeginsAsEarlyAsItCanAnywhere() {
        assertThat(LastWork.of(List.of("2026-11-25 PU3 replaced")).orElseThrow().moment())
                .isEqualTo(Instant.parse("2026-11-24T10:00:00Z"));
    }

    @ParameterizedTest
    @ValueSource(strings = {"PU3 replaced 2026-11-25", "2026-02-30 PU3", "2026-1-2 PU3", "20261125", ""})
    void otherTextDatesNothing(String entry) {
        assertThat(LastWork.of(List.of(entry))).isEmpty();
    }
}

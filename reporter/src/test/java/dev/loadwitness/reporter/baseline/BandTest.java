// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.baseline;

import static dev.loadwitness.reporter.baseline.AddEntries.entry;
import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.within;

import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import org.junit.jupiter.api.Test;

class BandTest {
    private static final String PLATEAU = "soak: plateau, Cel";

    private static Map<String, Double> plateau(double celsius) {
        return Map.of(PLATEAU, celsius);
    }

    /** 66 to 75 °C on machines m0, m1, …: mean 70.5, s = √(82.5/9) = 3.0277. */
    private static List<BaselineEntry> machines(int count) {
        List<BaselineEntry> entries = new ArrayList<>();
        for (int i = 0; i < count; i++) {
            entries.add(entry("r" + i, "m" + i, plateau(66 + i)));
        }
        return entries;
    }

    /** k = 3.3934 (n = 10, 95/95): 70.5 ± 10.274. */
    @Test
    void runOutsideTheBandIsFlaggedThoughItPassed() {
        Band hot = Band.of(entry("new", "other", plateau(80.8)), machines(10));
        assertThat(hot.missing()).isZero();
        assertThat(hot.rows().get(0).interval().orElseThrow().low()).isCloseTo(60.2257, within(0.001));
        assertThat(hot.rows().get(0).interval().orElseThrow().high()).isCloseTo(80.7743, within(0.001));
        assertThat(hot.outside()).extracting(Band.Row::figure).containsExactly(PLATEAU);
        assertThat(Band.of(entry("new", "other", plateau(80.7)), machines(10)).outside())
                .isEmpty();
        assertThat(Band.of(entry("new", "other", plateau(60.2)), machines(10)).outside())
                .hasSize(1);
    }

    @Test
    void nineMachinesAreOneTooFew() {
        Band band = Band.of(entry("new", "other", plateau(200)), machines(9));
        assertThat(band.missing()).isEqualTo(1);
        assertThat(band.judged()).isZero();
        assertThat(band.outside()).isEmpty();
    }

    @Test
    void manyRunsOfOneMachineAreOneMachineAndItsLatestCounts() {
        List<BaselineEntry> entries = machines(9);
        for (int i = 0; i < 5; i++) {
            entries.add(new BaselineEntry(
                    "again" + i,
                    "2026-11-25T0" + i + ":00:00Z",
                    "m0",
                    "Alder Works AW-17 Kestrel",
                    "p",
                    "2",
                    false,
                    "pass",
                    plateau(90 + i)));
        }
        Band band = Band.of(entry("new", "other", plateau(70)), entries);
        assertThat(band.machines()).isEqualTo(9);
        entries.addAll(machines(10).subList(9, 10));
        double mean = (94 + 67 + 68 + 69 + 70 + 71 + 72 + 73 + 74 + 75) / 10.0;
        assertThat(Band.of(entry("new", "other", plateau(70)), entries)
                        .rows()
                        .get(0)
                        .interval()
                        .orElseThrow()
                        .mean())
                .isCloseTo(mean, within(1e-9));
    }

    @Test
    void theRunsOwnMachineIsNoPartOfItsBand() {
        assertThat(Band.of(entry("new", "m3", plateau(70)), machines(10)).missing())
                .isEqualTo(1);
    }

    @Test
    void otherModelsProceduresMethodsAndSimulationsFormOtherBands() {
        BaselineEntry run = entry("new", "other", plateau(70));
        List<BaselineEntry> entries = machines(10);
        BaselineEntry e = entries.remove(0);
        List<BaselineEntry> strangers = List.of(
                new BaselineEntry("x1", e.begun(), "x1", "Alder Works AW-15", "p", "2", false, "pass", plateau(70)),
                new BaselineEntry("x2", e.begun(), "x2", e.model(), "q", "2", false, "pass", plateau(70)),
                new BaselineEntry("x3", e.begun(), "x3", e.model(), "p", "1", false, "pass", plateau(70)),
                new BaselineEntry("x4", e.begun(), "x4", e.model(), "p", "2", true, "pass", plateau(70)));
        entries.addAll(strangers);
        assertThat(Band.of(run, entries).machines()).isEqualTo(9);
    }

    @Test
    void aBandFromPassesAloneSaysSo() {
        List<BaselineEntry> entries = machines(10);
        BaselineEntry run = entry("new", "other", plateau(70));
        assertThat(Band.of(run, entries).fromPassesAlone()).isTrue();
        BaselineEntry e = entries.remove(0);
        entries.add(
                new BaselineEntry(e.runId(), e.begun(), e.machine(), e.model(), "p", "2", false, "fail", e.figures()));
        assertThat(Band.of(run, entries).fromPassesAlone()).isFalse();
    }

    @Test
    void machinesThatAllReadTheSameFormNoBand() {
        List<BaselineEntry> entries = new ArrayList<>();
        for (int i = 0; i < 12; i++) {
            entries.add(entry("r" + i, "m" + i, plateau(70)));
        }
        Band band = Band.of(entry("new", "other", plateau(71)), entries);
        assertThat(band.judged()).isZero();
        assertThat(band.outside()).isEmpty();
    }

    @Test
    void whatTheRunDoesNotShowIsNamed() {
        Band band = Band.of(entry("new", "other", Map.of("soak: power held, W", 140.0)), machines(10));
        assertThat(band.notShown()).containsExactly(PLATEAU);
        assertThat(band.rows().get(0).count()).isZero();
    }
}

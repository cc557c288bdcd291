// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.series;

import dev.loadwitness.reporter.scan.follow.Follower;
import dev.loadwitness.reporter.scan.follow.Step;
import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.ChannelTable;
import java.util.List;

/** Thins every channel for the charts. What cannot be believed is drawn too. */
public final class Drawing implements Follower {
    private final double periodSeconds;
    private final SeriesList series = new SeriesList();
    private int segment;
    private List<SeriesScan> drawn = List.of();

    public Drawing(double periodSeconds) {
        this.periodSeconds = periodSeconds;
    }

    @Override
    public void boot(Boot boot) {
        segment = boot.at().segment();
    }

    @Override
    public void table(ChannelTable table) {
        bootOver();
        drawn = table.channels().stream()
                .map(c -> new SeriesScan(c, segment, periodSeconds))
                .toList();
    }

    @Override
    public void step(Step step) {
        for (int place = 0; place < drawn.size(); place++) {
            double value = step.read()[place];
            if (!step.counters().counts(place)) {
                drawn.get(place).add(step.at().seconds(), value);
            } else if (step.seconds() > 0) {
                double rate = step.counters().increase(place) / step.seconds();
                drawn.get(place).add(step.at().seconds(), Double.isNaN(value) ? Double.NaN : rate);
            }
        }
    }

    @Override
    public void bootOver() {
        for (SeriesScan one : drawn) {
            if (!one.isEmpty()) {
                series.add(one.finish());
            }
        }
        drawn = List.of();
    }

    public List<Series> finish() {
        return series.list();
    }
}

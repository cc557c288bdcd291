// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import dev.loadwitness.reporter.chart.ChartGroup;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.runlog.Channel;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import java.util.Optional;

/** What the chart of a quantity shows of one run, as a table: lowest and highest of each channel in each stage. */
record StageExtremes(String name, String caption, List<String> stages, List<Row> rows, int allStages) {
    /** A table of more columns cannot be read. */
    private static final int MOST_STAGE_COLUMNS = 100;

    record Row(String channel, List<String> cells) {}

    /** Nothing where there would be no row or no column. */
    static Optional<StageExtremes> of(ReviewedRun run, ChartGroup quantity) {
        List<Channel> channels = run.scan().channels().stream()
                .filter(c -> ChartGroup.of(c) == quantity)
                .toList();
        List<StageTally> all = run.scan().stages();
        List<StageTally> stages = all.subList(0, Math.min(all.size(), MOST_STAGE_COLUMNS));
        if (channels.isEmpty() || stages.isEmpty()) {
            return Optional.empty();
        }
        Map<String, String> names = Names.of(run.scan().channels());
        List<Row> rows = channels.stream()
                .map(c -> new Row(names.getOrDefault(c.id(), c.id()), cells(run, c, stages, quantity)))
                .toList();
        return Optional.of(new StageExtremes(
                quantity.title() + " by stage" + run.of(),
                quantity.title() + ", " + quantity.unit() + ": lowest to highest, and when the highest was read"
                        + run.of(),
                stages.stream().map(s -> s.stage().id()).toList(),
                rows,
                all.size()));
    }

    boolean leavesOut() {
        return stages.size() < allStages;
    }

    private static List<String> cells(ReviewedRun run, Channel channel, List<StageTally> stages, ChartGroup quantity) {
        double scale = quantity.scale(run.readings().highest(channel));
        List<String> cells = new ArrayList<>();
        for (int s = 0; s < stages.size(); s++) {
            Readings.Extremes e = run.readings().extremes(channel.id(), s);
            cells.add(
                    e == null
                            ? "no reading"
                            : Names.number(e.lowest * scale) + " to " + Names.number(e.highest * scale) + ", at "
                                    + Names.clock(stages.get(s).begin().segment(), e.highestAt));
        }
        return cells;
    }
}

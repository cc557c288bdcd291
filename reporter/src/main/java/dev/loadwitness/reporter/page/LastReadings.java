// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import dev.loadwitness.reporter.chart.ChartGroup;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.runlog.Channel;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.EnumSet;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Optional;
import java.util.Set;

/** The last readings of a run that was cut short, and what moved in them. */
record LastReadings(String count, String endClock, String endUtc, Jump lastMinute, List<Head> heads, List<Row> rows) {
    private static final Set<ChartGroup> READ_BEFORE_END = EnumSet.of(
            ChartGroup.TEMPERATURE,
            ChartGroup.POWER,
            ChartGroup.CLOCK,
            ChartGroup.FAN,
            ChartGroup.WORK,
            ChartGroup.UTILIZATION,
            ChartGroup.CHARGE,
            ChartGroup.VOLTAGE);

    /** Of a reading's size, and kelvins: what moved by less in the last readings is steady (ours). */
    private static final double STEADY_SHARE = 0.05;

    private static final double STEADY_KELVIN = 1;

    static final String STEADY = "Steady: moved by no more than " + Names.number(100 * STEADY_SHARE)
            + " % of its highest here, or by " + Names.number(STEADY_KELVIN) + " K.";

    /** When a reading was taken: how long before the last one, and by the run's clock. */
    record Head(String before, String clock) {}

    /** One channel; {@code now} is its last reading. */
    record Row(String name, List<String> before, String now, String unit, String trend) {
        boolean moved() {
            return !trend.equals("steady");
        }
    }

    /** Nothing for a run that came to its end, or has no reading. */
    static Optional<LastReadings> of(ReviewedRun run) {
        Optional<At> cut = run.cutShort();
        return cut.flatMap(at -> run.readings().stretches().stream()
                .filter(s -> s.segment == at.segment() && s.samples() > 0)
                .reduce((a, b) -> b)
                .map(stretch -> of(run, at, stretch)));
    }

    private static LastReadings of(ReviewedRun run, At cut, Stretch stretch) {
        List<Stretch.Kept> kept = List.copyOf(stretch.ending);
        Stretch.Kept last = kept.get(kept.size() - 1);
        List<Head> heads = kept.stream()
                .map(k -> new Head(
                        k.seconds() == last.seconds() ? "last" : "−" + Names.duration(last.seconds() - k.seconds()),
                        Names.clock(stretch.segment, k.seconds())))
                .toList();
        return new LastReadings(
                kept.size() == 1 ? "reading" : kept.size() + " readings",
                cut.clock(),
                Names.utc(last.utc()),
                new Jump(
                        run.index(),
                        cut.segment(),
                        cut.seconds() - ReviewedRun.LAST_SECONDS,
                        cut.seconds(),
                        "",
                        "Show the last minute"),
                heads,
                rows(run, stretch, kept));
    }

    private static List<Row> rows(ReviewedRun run, Stretch stretch, List<Stretch.Kept> kept) {
        Map<String, String> names = Names.of(run.scan().channels());
        List<Row> rows = new ArrayList<>();
        for (ChartGroup quantity : READ_BEFORE_END) {
            for (int i = 0; i < stretch.channels.size(); i++) {
                Channel c = stretch.channels.get(i);
                if (ChartGroup.of(c) == quantity) {
                    double scale = quantity.scale(run.readings().highest(c));
                    int column = i;
                    double[] values = kept.stream()
                            .mapToDouble(k -> k.values()[column] * scale)
                            .toArray();
                    rows.add(row(names.getOrDefault(c.id(), c.id()), quantity, values));
                }
            }
        }
        return rows;
    }

    private static Row row(String name, ChartGroup quantity, double[] values) {
        List<String> shown = Arrays.stream(values).mapToObj(Names::number).toList();
        int last = values.length - 1;
        // The unit tells the others apart.
        boolean percent =
                quantity == ChartGroup.WORK || quantity == ChartGroup.UTILIZATION || quantity == ChartGroup.CHARGE;
        return new Row(
                percent ? name + ", " + quantity.title().toLowerCase(Locale.ROOT) : name,
                shown.subList(0, last),
                shown.get(last),
                quantity == ChartGroup.WORK ? "%" : quantity.unit(),
                trend(quantity, values));
    }

    private static String trend(ChartGroup quantity, double[] values) {
        double first = values[0];
        double last = values[values.length - 1];
        if (Double.isNaN(first) || Double.isNaN(last)) {
            return "–";
        }
        double most = Arrays.stream(values).map(Math::abs).max().orElse(0);
        double steady = quantity == ChartGroup.TEMPERATURE ? STEADY_KELVIN : STEADY_SHARE * most;
        return Math.abs(last - first) <= steady ? "steady" : last < first ? "▼ falling" : "▲ rising";
    }
}

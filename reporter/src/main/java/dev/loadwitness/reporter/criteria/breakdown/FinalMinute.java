// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.breakdown;

import dev.loadwitness.reporter.finding.Table;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.scan.LastMinute;
import dev.loadwitness.reporter.scan.LastMinute.Reading;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.util.ArrayList;
import java.util.List;
import java.util.Locale;
import java.util.Optional;
import java.util.stream.Stream;
import org.jspecify.annotations.Nullable;

/** What the last minute of a boot looked like for one part, and whether that points to heat or to the power path. */
final class FinalMinute {
    /** This far below its own slowdown a part did not die of heat (common practice, no source). */
    private static final double COLD_KELVIN = 10;

    /** A temperature that moved less than this in the last minute was steady (common practice, no source). */
    private static final double STEADY_KELVIN = 3;

    /** Over less time than this there is no trend (ours): sensors step by whole kelvins. */
    private static final double LEAST_SECONDS = 20;

    /** What would be reached within this time is near (ours): as far ahead as the minute looks back. */
    private static final double AHEAD_SECONDS = 60;

    /** A power or a clock that moved by less is steady (ours). */
    private static final double STEADY_SHARE = 0.05;

    /** What a technician reads first: the last of it (ours). */
    private static final double LAST_SECONDS = 10.5;

    private static final double[] ROWS = {60, 45, 30, 20, 10, 5, 4, 3, 2, 1};

    private final int segment;
    private final LastMinute moments;
    private final Optional<Role> part;
    private final Optional<Channel> hottest;

    /**
     * @param segment number of the boot
     * @param loaded the part that the stage proves or loads; empty for a stage without one
     */
    FinalMinute(int segment, LastMinute moments, Optional<Role> loaded) {
        this.segment = segment;
        this.moments = moments;
        this.part = loaded.or(() -> Stream.of(Role.GPU_DISCRETE, Role.GPU_INTEGRATED, Role.CPU)
                .filter(r -> !moments.channels(r, Metric.TEMPERATURE).isEmpty())
                .findFirst());
        Channel nearest = null;
        for (Channel c : part.map(r -> moments.channels(r, Metric.TEMPERATURE)).orElse(List.of())) {
            if (!Double.isNaN(below(c)) && (nearest == null || below(c) < below(nearest))) {
                nearest = c;
            }
        }
        this.hottest = Optional.ofNullable(nearest);
    }

    enum Trend {
        /** Close to its own slowdown. */
        HOT,
        /** Rising so fast that it would have been there within another minute. */
        HEATING,
        /** Far from it, and steady or falling. */
        COLD,
        /** Far from it and rising, or watched too shortly. */
        OPEN,
        /** Nothing that was read says. */
        UNKNOWN
    }

    Trend trend() {
        if (hottest.isEmpty()) {
            return Trend.UNKNOWN;
        }
        double below = below(hottest.get());
        double slope = moments.slope(hottest.get(), LEAST_SECONDS);
        // What it had held itself back from before it died was heat too, though it had cooled by then.
        if (below - fallen() < COLD_KELVIN) {
            return Trend.HOT;
        }
        if (Double.isNaN(slope)) {
            return Trend.OPEN;
        }
        if (slope * AHEAD_SECONDS >= below) {
            return Trend.HEATING;
        }
        return moments.change(hottest.get()) <= STEADY_KELVIN ? Trend.COLD : Trend.OPEN;
    }

    /** From the highest reading of the minute to the last one. */
    private double fallen() {
        return moments.highest(hottest.orElseThrow()) - moments.last(hottest.get());
    }

    private double below(Channel c) {
        return c.limit(ownLimit(c)).orElse(Double.NaN) - moments.last(c);
    }

    /** Where it slows itself down; where it states none, where it switches itself off. */
    private static LimitType ownLimit(Channel c) {
        return c.limit(LimitType.THROTTLED).isPresent() ? LimitType.THROTTLED : LimitType.HIGH_CRITICAL;
    }

    /**
     * A clause for the sentence, or nothing.
     *
     * @param power whether the evidence leaves room for the power path, and {@code heat} for heat
     */
    String words(boolean power, boolean heat) {
        if (hottest.isEmpty()) {
            return "";
        }
        return ", " + reading()
                + switch (trend()) {
                    case HOT -> heat ? ": suspect heat" : "";
                    case HEATING ->
                        ", " + moved() + ", so that it would have reached it within another"
                                + (heat ? ": suspect heat" : "");
                    case COLD ->
                        (Math.abs(moments.change(hottest.get())) <= STEADY_KELVIN ? " and steady" : ", " + moved())
                                + (power ? ": suspect the power path" : "");
                    default -> ", " + moved();
                };
    }

    /** The same, for the table. */
    String trendWords() {
        return switch (trend()) {
            case HOT -> "heat: " + reading();
            case HEATING -> "heat: " + reading() + ", " + moved() + ", so that it would have reached it within another";
            case COLD -> "not heat: " + reading() + ", " + moved();
            case OPEN -> "cannot be told: " + reading() + ", " + moved();
            case UNKNOWN -> "cannot be told: no temperature with a limit of its own was read";
        };
    }

    private String reading() {
        Channel c = hottest.orElseThrow();
        return "at " + Texts.number(moments.last(c), 0) + " °C, " + Texts.number(below(c), 0) + " K below its own "
                + (ownLimit(c) == LimitType.THROTTLED ? "slowdown" : "shutdown")
                + (fallen() > STEADY_KELVIN
                        ? " after " + Texts.number(moments.highest(c), 0) + " °C within its last minute"
                        : "");
    }

    private String moved() {
        Channel c = hottest.orElseThrow();
        if (Double.isNaN(moments.slope(c, LEAST_SECONDS))) {
            return "watched too shortly to tell a trend";
        }
        double change = moments.change(c);
        if (Math.abs(change) <= STEADY_KELVIN) {
            return "steady";
        }
        return (change > 0 ? "rising" : "falling") + " by " + Texts.number(Math.abs(change), 0)
                + " K in the last minute";
    }

    private record Column(String head, String unit, double scale, int decimals, Optional<Channel> channel) {}

    private List<Column> columns() {
        return Stream.of(
                        new Column("Power", "W", 1, 0, first(Metric.POWER).or(() -> first(Metric.ENERGY))),
                        new Column("Limit", "W", 1, 0, first(Metric.POWER_LIMIT)),
                        new Column("Temperature", "°C", 1, 0, hottest.or(() -> first(Metric.TEMPERATURE))),
                        new Column(
                                "Clock", "MHz", 1e-6, 0, first(Metric.GPU_CLOCK).or(() -> first(Metric.CPU_CLOCK))))
                .filter(c -> c.channel.isPresent())
                .toList();
    }

    /** {@code power falling (147 to 43 W); temperature, clock steady; in the last 10.0 s}. */
    Optional<String> lastSeconds() {
        List<Reading> readings = moments.readings(ROWS);
        if (part.isEmpty() || readings.size() < 3) {
            return Optional.empty();
        }
        // Of a counter there is a rate from the second reading on.
        int from = 1;
        while (from < readings.size() - 2 && readings.get(from).relativeSeconds() < -LAST_SECONDS) {
            from++;
        }
        Reading begin = readings.get(from);
        List<String> moved = new ArrayList<>();
        List<String> steady = new ArrayList<>();
        for (Column c : columns()) {
            Channel channel = c.channel.orElseThrow();
            double before = value(channel, begin, readings.get(from - 1)) * c.scale;
            double after =
                    value(channel, readings.get(readings.size() - 1), readings.get(readings.size() - 2)) * c.scale;
            String name = c.head.toLowerCase(Locale.ROOT);
            double least = c.unit.equals("°C") ? STEADY_KELVIN : STEADY_SHARE * Math.max(before, after);
            if (Math.abs(after - before) <= least) {
                steady.add(name);
            } else if (Double.isFinite(after - before)) {
                moved.add(name + (after < before ? " falling (" : " rising (") + Texts.number(before, c.decimals)
                        + " to " + Texts.number(after, c.decimals) + " " + c.unit + ")");
            }
        }
        if (!steady.isEmpty()) {
            moved.add(String.join(", ", steady) + " steady");
        }
        return moved.isEmpty()
                ? Optional.empty()
                : Optional.of(
                        String.join("; ", moved) + "; in the last " + Texts.number(-begin.relativeSeconds(), 0) + " s");
    }

    /** Empty if nothing of the part was read. */
    Optional<Table> table(List<StageTally> stages) {
        List<Reading> readings = moments.readings(ROWS);
        if (part.isEmpty() || readings.isEmpty()) {
            return Optional.empty();
        }
        List<Column> columns = columns();
        List<String> heads = new ArrayList<>(List.of("Time", "Stage"));
        columns.forEach(c -> heads.add(c.head));
        List<List<String>> rows = new ArrayList<>();
        for (int i = 0; i < readings.size(); i++) {
            Reading now = readings.get(i);
            Reading earlier = i == 0 ? null : readings.get(i - 1);
            List<String> row = new ArrayList<>();
            row.add(i == readings.size() - 1 ? "last" : Texts.number(-now.relativeSeconds(), 1) + " s before");
            row.add(stages.stream()
                    .filter(s -> s.begin().segment() == segment
                            && s.begin().seconds() <= now.seconds()
                            && now.seconds() <= s.end().seconds())
                    .reduce((a, b) -> b)
                    .map(s -> s.stage().id())
                    .orElse("-"));
            for (Column c : columns) {
                double value = value(c.channel.orElseThrow(), now, earlier);
                row.add(Double.isNaN(value) ? "-" : Texts.number(value * c.scale, c.decimals) + " " + c.unit);
            }
            rows.add(row);
        }
        return Optional.of(new Table("last minute of " + Texts.part(part.get()), heads, rows));
    }

    /** A gauge's reading, or the mean growth per second of a counter since the row before. */
    private static double value(Channel channel, Reading now, @Nullable Reading earlier) {
        if (!channel.measures(Metric.ENERGY)) {
            return now.value(channel);
        }
        return earlier == null
                ? Double.NaN
                : (now.value(channel) - earlier.value(channel)) / (now.seconds() - earlier.seconds());
    }

    private Optional<Channel> first(Metric metric) {
        return moments.channels(part.orElseThrow(), metric).stream().findFirst();
    }
}

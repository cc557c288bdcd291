// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.baseline;

import dev.loadwitness.reporter.statistics.ToleranceInterval;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.HashMap;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;

/**
 * A run against the others of its model.
 *
 * @param machines distinct machines that the bands rest on, without the run's own
 * @param passed how many of their runs passed
 * @param rows in the order of the run's figures
 * @param notShown figures that enough of the others show and this run does not
 */
public record Band(BaselineEntry run, int machines, int passed, List<Row> rows, List<String> notShown) {
    /** Our choice: below, k is above 3.4 and grows fast, and a band would hold almost anything. */
    public static final int LEAST_MACHINES = 10;

    public static final double COVERAGE = 0.95;
    public static final double CONFIDENCE = 0.95;

    public Band {
        rows = List.copyOf(rows);
        notShown = List.copyOf(notShown);
    }

    /**
     * One figure.
     *
     * @param count machines that show it
     * @param interval empty if there are fewer than {@link #LEAST_MACHINES}, or they show no spread
     */
    public record Row(String figure, double value, int count, Optional<ToleranceInterval> interval) {
        public boolean outside() {
            return interval.isPresent() && !interval.get().holds(value);
        }
    }

    /**
     * Entries of the same model, procedure and method, one for each other machine: its latest run.
     *
     * @param entries of a store
     */
    public static Band of(BaselineEntry run, List<BaselineEntry> entries) {
        Map<String, BaselineEntry> latest = new HashMap<>();
        entries.stream()
                .filter(e -> e.isLike(run) && !e.machine().equals(run.machine()))
                .sorted(Comparator.comparing(BaselineEntry::begun).thenComparing(BaselineEntry::runId))
                .forEach(e -> latest.put(e.machine(), e));
        List<BaselineEntry> others = latest.values().stream()
                .sorted(Comparator.comparing(BaselineEntry::machine))
                .toList();
        Map<String, List<Double>> values = new LinkedHashMap<>();
        run.figures().keySet().forEach(key -> values.put(key, new ArrayList<>()));
        for (BaselineEntry e : others) {
            e.figures()
                    .forEach((key, value) -> values.computeIfPresent(key, (k, list) -> {
                        list.add(value);
                        return list;
                    }));
        }
        List<Row> rows = new ArrayList<>();
        run.figures().forEach((key, value) -> {
            List<Double> list = values.getOrDefault(key, List.of());
            rows.add(new Row(key, value, list.size(), interval(list)));
        });
        int passed =
                (int) others.stream().filter(e -> e.outcome().equals("pass")).count();
        List<String> notShown = others.stream()
                .flatMap(e -> e.figures().keySet().stream())
                .filter(key -> !run.figures().containsKey(key))
                .distinct()
                .sorted()
                .filter(key -> others.stream()
                                .filter(e -> e.figures().containsKey(key))
                                .count()
                        >= LEAST_MACHINES)
                .toList();
        return new Band(run, others.size(), passed, rows, notShown);
    }

    private static Optional<ToleranceInterval> interval(List<Double> values) {
        if (values.size() < LEAST_MACHINES) {
            return Optional.empty();
        }
        ToleranceInterval interval = ToleranceInterval.of(
                values.stream().mapToDouble(Double::doubleValue).toArray(), COVERAGE, CONFIDENCE);
        // Equal readings of a coarse sensor are no proof of machines without any spread.
        return interval.deviation() > 0 ? Optional.of(interval) : Optional.empty();
    }

    /** How many more machines it takes; 0 if there are enough. */
    public int missing() {
        return Math.max(0, LEAST_MACHINES - machines);
    }

    public long judged() {
        return rows.stream().filter(r -> r.interval().isPresent()).count();
    }

    public List<Row> outside() {
        return rows.stream().filter(Row::outside).toList();
    }

    /** A band of machines that were all good enough to pass is narrower than that of all sound machines. */
    public boolean fromPassesAlone() {
        return machines > 0 && passed == machines;
    }
}

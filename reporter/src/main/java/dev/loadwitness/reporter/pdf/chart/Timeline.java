// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.chart;

import dev.loadwitness.reporter.pdf.paper.Words;
import dev.loadwitness.reporter.scan.series.Mark;
import dev.loadwitness.reporter.scan.series.Series;
import dev.loadwitness.reporter.scan.stage.StageSpan;
import java.util.Comparator;
import java.util.List;
import java.util.stream.IntStream;
import java.util.stream.Stream;

/**
 * The time that the charts share: one stretch for each boot, each with a zero of its own, because clocks of different
 * boots cannot be subtracted.
 */
public final class Timeline {
    /** More stretches side by side cannot be read. */
    private static final int STRETCHES_DRAWN = 4;

    public final List<StageSpan> stages;
    public final List<Mark> marks;
    private final List<Series> series;
    private final List<Integer> segments;

    public Timeline(Course course) {
        this.series = course.series();
        this.stages = course.stages();
        this.marks = course.marks().stream()
                .sorted(Comparator.comparingInt(Mark::segment).thenComparingDouble(Mark::atSeconds))
                .toList();
        this.segments = Stream.of(
                        series.stream().map(Series::segment), stages.stream().map(StageSpan::segment))
                .flatMap(s -> s)
                .distinct()
                .sorted()
                .toList();
    }

    public List<Integer> drawn() {
        return segments.subList(0, Math.min(STRETCHES_DRAWN, segments.size()));
    }

    public int segments() {
        return segments.size();
    }

    /** Length of a stretch in minutes; more than zero. */
    double minutes(int segment) {
        double seconds = Stream.of(
                        series.stream()
                                .filter(s -> s.segment() == segment)
                                .map(s -> s.startSeconds() + s.binSeconds() * s.mean().length),
                        stages.stream().filter(s -> s.segment() == segment).map(StageSpan::endSeconds),
                        marks.stream().filter(m -> m.segment() == segment).map(Mark::atSeconds))
                .flatMap(s -> s)
                .filter(Double::isFinite)
                .mapToDouble(Double::doubleValue)
                .max()
                .orElse(0);
        return Math.max(seconds, 1) / 60;
    }

    public static String stretch(Words words, int segment) {
        return segment == 0 ? words.text("stretch.start") : words.text("stretch.restart", Integer.toString(segment));
    }

    /** The mark's number in the list of events, from 1. */
    List<Integer> marksOf(int segment) {
        return IntStream.range(0, marks.size())
                .filter(i -> marks.get(i).segment() == segment)
                .mapToObj(i -> i + 1)
                .toList();
    }
}

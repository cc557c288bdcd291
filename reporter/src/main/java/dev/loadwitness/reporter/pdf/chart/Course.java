// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.chart;

import dev.loadwitness.reporter.scan.Scan;
import dev.loadwitness.reporter.scan.Segment;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.NotedEvent;
import dev.loadwitness.reporter.scan.series.Mark;
import dev.loadwitness.reporter.scan.series.Series;
import dev.loadwitness.reporter.scan.stage.StageSpan;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.ending.EndCause;
import dev.loadwitness.runlog.ending.Ending;
import java.util.ArrayList;
import java.util.EnumSet;
import java.util.List;
import java.util.Optional;
import java.util.Set;

/**
 * How the run went, for charts and lists.
 *
 * @param series for the charts; channels of kinds that no chart shows are passed over
 * @param stages as they ran
 * @param heldWatts mean power of each stage's part, in the order of {@code stages}; NaN where it was not read
 * @param marks events worth drawing
 * @param channels all that were read, drawn or not
 */
public record Course(
        List<Series> series, List<StageSpan> stages, List<Double> heldWatts, List<Mark> marks, List<Channel> channels) {
    /** Nothing was recorded. */
    public static final Course NONE = new Course(List.of(), List.of(), List.of(), List.of(), List.of());

    /** Events that explain what a curve does. */
    private static final Set<EventKind> MARKED = EnumSet.of(
            EventKind.ADAPTER_OFF,
            EventKind.ADAPTER_ON,
            EventKind.LIMIT_CHANGED,
            EventKind.SAFETY_STOP,
            EventKind.OPERATOR_STOP,
            EventKind.COMPUTE_ERROR,
            EventKind.MEMORY_ERROR,
            EventKind.WORKER_DIED,
            EventKind.WORKER_STALLED,
            EventKind.SUSPENDED,
            EventKind.HANG,
            EventKind.WITNESS_STALLED,
            EventKind.DEVICE_LEFT);

    private static final int MOST_MARKS = 300;

    public Course {
        series = List.copyOf(series);
        stages = List.copyOf(stages);
        heldWatts = List.copyOf(heldWatts);
        marks = List.copyOf(marks);
        channels = List.copyOf(channels);
        if (heldWatts.size() != stages.size()) {
            throw new IllegalArgumentException(heldWatts.size() + " powers for " + stages.size() + " stages");
        }
    }

    /** From a scan that kept its series. */
    public static Course of(Scan scan) {
        List<StageSpan> spans = new ArrayList<>();
        List<Double> watts = new ArrayList<>();
        for (StageTally s : scan.stages()) {
            spans.add(new StageSpan(
                    s.stage().id(),
                    s.begin().segment(),
                    s.begin().seconds(),
                    s.end().seconds(),
                    s.why()));
            watts.add(s.part().map(s::meanWatts).orElse(Double.NaN));
        }
        return new Course(scan.series(), spans, watts, marks(scan), scan.channels());
    }

    private static List<Mark> marks(Scan scan) {
        List<Mark> marks = new ArrayList<>();
        for (int i = 0; i < scan.segments().size(); i++) {
            At last = scan.segments().get(i).last();
            boolean goesOn = i + 1 < scan.segments().size();
            if (last != null && (goesOn || scan.close().isEmpty())) {
                String what = goesOn ? ended(scan.segments().get(i + 1)) : "log breaks off";
                marks.add(new Mark(last.segment(), last.seconds(), what));
            }
        }
        scan.events().stream()
                .filter(e -> e.event().known().filter(MARKED::contains).isPresent())
                .limit(MOST_MARKS)
                .map(Course::mark)
                .forEach(marks::add);
        return marks;
    }

    /** How the stretch before ended, in a label's few words. */
    private static String ended(Segment next) {
        Optional<EndCause.By> by =
                next.evidence().flatMap(e -> Ending.of(e.facts()).by());
        return switch (by.orElse(EndCause.By.MACHINE)) {
            case MACHINE -> "shut off";
            case OPERATOR -> "switched off";
            case SYSTEM -> "shut down in order";
            case WITNESS -> "agent ended";
        };
    }

    private static Mark mark(NotedEvent e) {
        return new Mark(e.at().segment(), e.at().seconds(), e.event().kind().replace('-', ' '));
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.machine;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.Follower;
import dev.loadwitness.reporter.scan.follow.Room;
import dev.loadwitness.reporter.scan.follow.Step;
import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Word;
import dev.loadwitness.runlog.procedure.Ask;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import org.jspecify.annotations.Nullable;

/** Follows what stages ask of a person, and when the load was there afterwards. */
public final class AskScan implements Follower {
    private static final int MOST = 1000;
    private static final long MAP_ENTRY_BYTES = 64;

    private final List<Open> all = new ArrayList<>();
    private final Room room;
    private @Nullable Boot boot;
    private ChannelTable table = ChannelTable.NONE;
    private int[] works = {};
    private int[] temperatures = {};
    /** The last sample with the channels as they are listed now; null before the first. */
    private @Nullable Step last;

    private @Nullable Open waiting;
    private @Nullable Open done;

    private static final class Open {
        private final Ask what;
        private final String stage;
        private @Nullable At asked;
        private @Nullable At doneAt;
        private @Nullable At slept;
        /** Zero of the waiting for work, on the clock of the segment in which it was done. */
        private double from;

        private String leftOut = "";
        private @Nullable At work;
        private Map<String, Double> celsius = Map.of();

        Open(Ask what, String stage) {
            this.what = what;
            this.stage = stage;
        }

        AskTally finish() {
            return new AskTally(
                    what,
                    stage,
                    Optional.ofNullable(asked),
                    Optional.ofNullable(doneAt),
                    leftOut,
                    work == null ? Double.NaN : work.seconds() - from,
                    celsius);
        }
    }

    public AskScan(Room room) {
        this.room = room;
    }

    @Override
    public void boot(Boot now) {
        boot = now;
    }

    @Override
    public void table(ChannelTable now) {
        table = now;
        works = now.places(c -> c.measures(Metric.WORK_VERIFIED));
        temperatures = now.places(c -> c.measures(Metric.TEMPERATURE));
        last = null;
    }

    @Override
    public void event(At at, EventKind kind, Event event) {
        switch (kind) {
            case OPERATOR_ASKED -> asked(event, at);
            case SUSPENDED -> slept(at);
            case STAGE_LEFT_OUT -> leftOut(event);
            case OPERATOR_DONE -> {
                if (boot != null) {
                    done(event, at, boot);
                }
            }
            default -> {
                // Nothing about a person.
            }
        }
    }

    private void asked(Event event, At at) {
        waiting = open(event);
        done = null;
        if (waiting != null) {
            waiting.asked = at;
        }
    }

    private void slept(At at) {
        if (waiting != null && waiting.what == Ask.SLEEP) {
            waiting.slept = at;
        }
    }

    private void done(Event event, At at, Boot in) {
        Map<String, Double> celsius = celsius();
        room.take(MAP_ENTRY_BYTES * celsius.size());
        boolean expected = waiting != null
                && waiting.stage.equals(event.text("stage"))
                && waiting.what.word().equals(event.text("what"));
        done = expected ? waiting : open(event);
        waiting = null;
        if (done != null) {
            done.doneAt = at;
            done.celsius = celsius;
            double bootSeconds =
                    done.what == Ask.POWER_OFF ? in.bootTimeSeconds() - in.at().seconds() : Double.NaN;
            done.from = !Double.isNaN(bootSeconds) ? -bootSeconds : (done.slept == null ? at : done.slept).seconds();
        }
    }

    /** The last sample's temperatures, by channel. */
    private Map<String, Double> celsius() {
        Map<String, Double> celsius = new LinkedHashMap<>();
        if (last != null) {
            for (int place : temperatures) {
                if (!Double.isNaN(last.values()[place])) {
                    celsius.put(table.channels().get(place).id(), last.values()[place]);
                }
            }
        }
        return celsius;
    }

    /** A stage was left out, whether it had asked or not. */
    private void leftOut(Event event) {
        if (waiting != null && waiting.stage.equals(event.text("stage"))) {
            waiting.leftOut = event.text("why");
            waiting = null;
        }
    }

    /** Waits for verified work. */
    @Override
    public void step(Step step) {
        last = step;
        if (done == null || done.doneAt == null || step.at().segment() != done.doneAt.segment()) {
            return;
        }
        for (int place : works) {
            if (step.counters().increase(place) > 0) {
                done.work = step.at();
                done = null;
                return;
            }
        }
    }

    private @Nullable Open open(Event event) {
        Optional<Ask> what = Word.find(Ask.class, event.text("what"));
        if (what.isEmpty() || all.size() >= MOST) {
            return null;
        }
        Open open = new Open(what.get(), event.text("stage"));
        all.add(open);
        return open;
    }

    public List<AskTally> finish() {
        return all.stream().map(Open::finish).toList();
    }
}

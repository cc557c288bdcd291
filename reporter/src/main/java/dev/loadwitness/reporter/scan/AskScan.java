// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Word;
import dev.loadwitness.runlog.procedure.Ask;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import java.util.Optional;

/** Follows what stages ask of a person, and when the load was there afterwards. */
final class AskScan implements Follower {
    private static final int MOST = 1000;

    private final List<Open> all = new ArrayList<>();
    private int[] works = {};
    private Open waiting;
    private Open done;

    private static final class Open {
        private final Ask what;
        private final String stage;
        private At asked;
        private At doneAt;
        private At slept;
        private double bootSeconds = Double.NaN;
        private String leftOut = "";
        private At work;
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
                    work == null ? Double.NaN : work.seconds() - from(),
                    celsius);
        }

        /** Zero of the waiting for work, on the clock of the segment in which it was done. */
        private double from() {
            if (!Double.isNaN(bootSeconds)) {
                return -bootSeconds;
            }
            return slept == null ? doneAt.seconds() : slept.seconds();
        }
    }

    void asked(Event event, At at) {
        waiting = open(event);
        done = null;
        if (waiting != null) {
            waiting.asked = at;
        }
    }

    void slept(At at) {
        if (waiting != null && waiting.what == Ask.SLEEP) {
            waiting.slept = at;
        }
    }

    void done(Event event, At at, Boot boot, Map<String, Double> celsius) {
        boolean expected = waiting != null
                && waiting.stage.equals(event.text("stage"))
                && waiting.what.word().equals(event.text("what"));
        done = expected ? waiting : open(event);
        waiting = null;
        if (done != null) {
            done.doneAt = at;
            done.celsius = celsius;
            if (done.what == Ask.POWER_OFF) {
                done.bootSeconds = boot.bootTimeSeconds() - boot.at().seconds();
            }
        }
    }

    /** A stage was left out, whether it had asked or not. */
    void leftOut(Event event) {
        if (waiting != null && waiting.stage.equals(event.text("stage"))) {
            waiting.leftOut = event.text("why");
            waiting = null;
        }
    }

    @Override
    public void table(ChannelTable table) {
        works = table.places(c -> c.measures(Metric.WORK_VERIFIED));
    }

    /** Waits for verified work. */
    @Override
    public void step(Step step) {
        if (done == null || step.at().segment() != done.doneAt.segment()) {
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

    private Open open(Event event) {
        Optional<Ask> what = Word.find(Ask.class, event.text("what"));
        if (what.isEmpty() || all.size() >= MOST) {
            return null;
        }
        Open open = new Open(what.get(), event.text("stage"));
        all.add(open);
        return open;
    }

    List<AskTally> finish() {
        return all.stream().map(Open::finish).toList();
    }
}

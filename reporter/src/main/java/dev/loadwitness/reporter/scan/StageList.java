// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.Room;
import dev.loadwitness.reporter.scan.follow.Step;
import dev.loadwitness.reporter.scan.stage.StageScan;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.LogLimits;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.Stage;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import java.util.Set;
import org.jspecify.annotations.Nullable;

/** The stages of a run, one after another: those that ended, and the one that is on. */
final class StageList {
    private final Procedure asRun;
    private final Procedure judgedBy;
    private final double periodSeconds;
    private final Room room;
    private final List<StageTally> ended = new ArrayList<>();
    private @Nullable ChannelTable table;
    private @Nullable StageScan on;
    private int checksCaught;
    private int checksMissed;

    StageList(Procedure asRun, Procedure judgedBy, double periodSeconds, Room room) {
        this.asRun = asRun;
        this.judgedBy = judgedBy;
        this.periodSeconds = periodSeconds;
        this.room = room;
    }

    /** From now on samples have these channels. */
    void table(ChannelTable now) {
        table = now;
        if (on != null) {
            on.table(now);
        }
    }

    void step(Step step) {
        if (on != null) {
            on.step(step);
        }
    }

    void event(At at, EventKind kind, Event event) {
        switch (kind) {
            case WITNESS_CHECK -> {
                if (event.facts().get("caught") instanceof Boolean caught && caught) {
                    checksCaught++;
                } else {
                    checksMissed++;
                }
            }
            case STAGE_BEGIN -> begin(event.text("stage"), at);
            case STAGE_END -> end(at, event.text("why"));
            case LOAD_EDGES, LOAD_LEVEL -> {
                if (on != null) {
                    on.event(at, kind, event);
                }
            }
            default -> {
                // Followers have seen it, and criteria look at the list of events.
            }
        }
    }

    private void begin(String id, At at) {
        end(at, "interrupted");
        Optional<Stage> found =
                asRun.stages().stream().filter(s -> s.id().equals(id)).findFirst();
        // No table yet: no boot has begun.
        if (found.isPresent() && table != null) {
            Room.check(ended.size() + 1L, LogLimits.STAGES, "stages begun");
            on = new StageScan(
                    found.get(),
                    at,
                    new StageTally.WitnessChecks(checksCaught, checksMissed),
                    judgedBy,
                    periodSeconds,
                    room);
            on.table(table);
        }
        checksCaught = 0;
        checksMissed = 0;
    }

    private void end(At at, String why) {
        if (on != null) {
            StageTally tally = on.finish(at, why);
            room.take(tally.bytes());
            ended.add(tally);
            on = null;
        }
    }

    /** What was on when a boot was over ended with its last sample. */
    void bootOver(@Nullable At last) {
        if (on != null) {
            end(last != null && last.seconds() > on.begin().seconds() ? last : on.begin(), "interrupted");
        }
    }

    /** The one that is on; null if none is. */
    @Nullable
    Stage stage() {
        return on == null ? null : on.stage();
    }

    /** Of the one that is on; −1 if none is. */
    int number() {
        return on == null ? -1 : ended.size();
    }

    /** The first step of a stage begins with the stage, not with the sample before it. */
    double share(At at, double seconds) {
        return on != null && seconds > 0 && at.seconds() - seconds < on.begin().seconds()
                ? Math.min(1, (at.seconds() - on.begin().seconds()) / seconds)
                : 1;
    }

    /** All that ended, without the temperatures and powers that cannot be believed. */
    List<StageTally> without(Set<String> faulty) {
        return ended.stream().map(s -> s.without(faulty)).toList();
    }
}

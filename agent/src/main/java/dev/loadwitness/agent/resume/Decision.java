// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.resume;

import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.file.line.Damage;
import dev.loadwitness.runlog.procedure.OnInterruption;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.Stage;
import java.util.List;
import java.util.Optional;

/**
 * What becomes of a run that broke off.
 *
 * @param closed the reason to close it with; empty if it goes on
 * @param why one sentence for people; empty if it goes on
 * @param stages what is left of the procedure's stages after those that this run leaves out
 * @param stage index in {@code stages} of the one to begin with
 * @param askedFor whether that stage had asked for the power to be switched off, and it was
 */
public record Decision(Optional<CloseReason> closed, String why, List<Stage> stages, int stage, boolean askedFor) {
    /** So many boots in a row without a sample between them are no accident any more. */
    public static final int RESTART_LOOP_BOOTS = 3;

    public Decision {
        stages = List.copyOf(stages);
    }

    /**
     * Decides by the log alone, so that evidence which cannot be had never puts a load on.
     *
     * @param before the log up to the interruption
     * @param now the record of the present start
     */
    public static Decision of(Unfinished before, Boot now, Procedure procedure) {
        List<Stage> stages = procedure.stages().stream()
                .filter(s -> !before.leftOutStages().contains(s.id()))
                .toList();
        int stage = 0;
        while (stage < stages.size()
                && before.endedStages().contains(stages.get(stage).id())) {
            stage++;
        }
        boolean sameBoot =
                before.lastBoot().isPresent() && isSameBoot(before.lastBoot().get(), now);
        int boots = before.bootsWithoutSample() + (sameBoot ? 0 : 1);
        boolean askedFor = !sameBoot
                && stage < stages.size()
                && before.powerOffAsked().equals(Optional.of(stages.get(stage).id()));
        if (boots >= RESTART_LOOP_BOOTS) {
            return closed(CloseReason.RESTART_LOOP, boots + " boots in a row without a sample between them");
        }
        Optional<String> tooHigh = procedure.safety().tooHigh();
        boolean goesOn = stage < stages.size();
        if (goesOn && tooHigh.isPresent()) {
            return closed(
                    CloseReason.INTERRUPTED,
                    tooHigh.get() + ": no load is put on with such a ceiling, whoever wrote this procedure");
        }
        if (goesOn && before.damage().filter(Decision::isNoCrash).isPresent()) {
            return closed(
                    CloseReason.INTERRUPTED,
                    "the log was altered (" + before.damage().get().detail()
                            + "), and no load is put on by what it says");
        }
        if (askedFor) {
            return new Decision(Optional.empty(), "", stages, stage, true);
        }
        if (procedure.onInterruption() == OnInterruption.STOP) {
            return closed(
                    CloseReason.INTERRUPTED,
                    (sameBoot ? "the agent ended while the machine ran on" : "the machine started again")
                            + ", and the procedure stops after an interruption");
        }
        return new Decision(Optional.empty(), "", stages, stage, false);
    }

    /** What somebody, or a failing disk, has altered within; bytes spoilt near the end may be a crash's work. */
    private static boolean isNoCrash(Damage damage) {
        return switch (damage.kind()) {
            case EDITED, MISSING, REPEATED, OUT_OF_PLACE, DUPLICATE_KEY, WRONG_SHAPE, TOO_DEEP, ABSURD_NUMBER -> true;
            case TORN_TAIL, MALFORMED, ENCODING, NUL_BYTES, TOO_LONG -> false;
        };
    }

    /** Without identities nothing says that it is the same. */
    public static boolean isSameBoot(Boot before, Boot now) {
        return !now.bootId().isEmpty() && now.bootId().equals(before.bootId());
    }

    private static Decision closed(CloseReason reason, String why) {
        return new Decision(Optional.of(reason), why, List.of(), 0, false);
    }
}

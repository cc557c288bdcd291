// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.session;

import dev.loadwitness.agent.resume.Decision;
import dev.loadwitness.agent.run.Run;
import dev.loadwitness.agent.storage.StorageEvents;
import dev.loadwitness.runlog.BootEvidence;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.RunTime;
import dev.loadwitness.runlog.ending.EndCause;
import dev.loadwitness.runlog.ending.Ending;
import dev.loadwitness.runlog.file.write.RunLogWriter;
import dev.loadwitness.runlog.procedure.Stage;
import java.io.PrintStream;
import java.time.Instant;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.stream.Collectors;

/** What is said of a run that broke off and was taken up again, and what is written of that into its log. */
final class TakenUp {
    private final Resumed resumed;
    private final PrintStream out;
    private long told;

    TakenUp(Resumed resumed, PrintStream out) {
        this.resumed = resumed;
        this.out = out;
    }

    void tellHowItEnded() {
        if (!resumed.evidence().isEmpty()) {
            resumed.writer().append(new BootEvidence(at(), resumed.evidence()));
            out.println(howItEnded(Ending.of(resumed.evidence())));
        }
    }

    private static String howItEnded(Ending ending) {
        return "How it ended, by the evidence of this start. Shown: " + words(ending.shown()) + ". Not excluded: "
                + words(ending.open()) + ". Excluded: " + words(ending.excluded()) + ".";
    }

    private static String words(Map<EndCause, String> causes) {
        return causes.isEmpty()
                ? "nothing"
                : causes.keySet().stream().map(EndCause::word).collect(Collectors.joining(", "));
    }

    /** Says on screen and in the log what is wrong with it. */
    void tellLeftBehind() {
        Optional<RunLogWriter.LeftBehind> leftBehind = resumed.writer().leftBehind();
        leftBehind
                .map(RunLogWriter.LeftBehind::damage)
                .or(resumed.before()::damage)
                .ifPresent(d -> out.println("The log is damaged, first at " + d.place() + " ("
                        + d.kind().word() + ", " + d.detail() + "). "
                        + leftBehind
                                .map(l -> l.records() + " whole records behind that place are left behind.")
                                .orElse("Nothing was taken out of it.")
                        + " 'judge' says so too."));
        leftBehind.ifPresent(l -> resumed.writer()
                .append(Event.of(
                        at(),
                        Instant.now(),
                        EventKind.RECORDS_LEFT_BEHIND,
                        Map.of(
                                "count", (double) l.records(),
                                "damage", l.damage().kind().word(),
                                "place", l.damage().place().toString()))));
        told += leftBehind.isPresent() ? 1 : 0;
    }

    void tellHowItGoesOn(List<Stage> left) {
        out.println(howItGoesOn(resumed.decision(), left));
    }

    private static String howItGoesOn(Decision decision, List<Stage> left) {
        if (left.isEmpty()) {
            return "All its stages had ended: it is only closed";
        }
        return "It goes on with stage " + left.get(0).id()
                + (decision.askedFor()
                        ? ", which had asked for the power to be switched off"
                        : ", begun again: its procedure says on-interruption: go-on");
    }

    /** Where the run goes on. */
    Run.Beginning beginning() {
        return new Run.Beginning(
                resumed.now().at().segment(),
                resumed.decision().stage(),
                resumed.before().samples(),
                events());
    }

    /** Closes it without going on. */
    void close(SessionLog log, CloseReason reason, String why) {
        for (StorageEvents.Told untold : resumed.told().untold()) {
            resumed.writer().append(Event.of(at(), Instant.now(), untold.kind(), untold.facts()));
            told++;
        }
        out.println("This run is closed: " + why);
        log.append(new Close(
                at(), Instant.now(), reason.word(), why, resumed.before().samples(), events()));
    }

    private long events() {
        return resumed.before().events() + told;
    }

    private RunTime at() {
        return new RunTime(resumed.now().at().segment(), resumed.clock().nanos());
    }
}

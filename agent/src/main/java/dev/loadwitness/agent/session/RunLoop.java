// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.session;

import dev.loadwitness.agent.run.Run;
import dev.loadwitness.agent.run.RunClock;
import dev.loadwitness.agent.run.Status;
import dev.loadwitness.agent.screen.Screen;
import dev.loadwitness.agent.screen.SkipKey;
import dev.loadwitness.agent.storage.StorageWatch;
import dev.loadwitness.runlog.CloseReason;
import java.util.concurrent.locks.LockSupport;

/** Owns the thread of a run: steps it until it has ended, shows it, and ends it where its log can no longer be kept. */
final class RunLoop {
    private final Run run;
    private final RunClock clock;
    private final SessionLog log;
    private final Screen screen;
    private final boolean terminal;

    RunLoop(Run run, RunClock clock, SessionLog log, Screen screen, boolean terminal) {
        this.run = run;
        this.clock = clock;
        this.log = log;
        this.screen = screen;
        this.terminal = terminal;
    }

    /** Returns when it has ended. */
    void toItsEnd() throws InterruptedException {
        try {
            while (!run.hasEnded()) {
                long next = run.step(clock.nanos());
                long now = clock.nanos();
                show(now);
                StorageWatch storage = log.storage();
                storage.lostFor()
                        .ifPresent(why ->
                                run.requestStop(CloseReason.AGENT_FAILED, "the log can no longer be kept: " + why));
                storage.mustEnd().ifPresent(why -> run.requestStop(CloseReason.STORAGE_FULL, why));
                log.note(now);
                if (next > now && !run.hasEnded()) {
                    LockSupport.parkNanos(next - now);
                }
            }
            if (run.isLeftOpen()) {
                log.leaveOpen(" stays open: 'resume' goes on with it after the next start");
            }
        } catch (RuntimeException | Error e) {
            // The load must come off and the log be closed whatever our own defect is; then it is shown.
            run.requestStop(CloseReason.AGENT_FAILED, e.toString());
            run.step(clock.nanos());
            throw e;
        }
    }

    private void show(long now) throws InterruptedException {
        Status status = run.status();
        screen.show(log.mayAsk() ? status : status.notYetAsked(), log.storage().warning(), now);
        if (terminal && status.asked().isPresent() && SkipKey.wasTyped()) {
            run.leaveOutWhatIsAsked();
        }
    }
}

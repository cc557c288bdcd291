// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.procedure.LoadKind;
import dev.loadwitness.runlog.procedure.Stage;
import java.io.IOException;
import java.util.List;
import java.util.Map;

/** A load that is running, as the run sees it. */
public interface Work {
    LoadKind kind();

    /** The scheduling class that the system gave, for the log. */
    String scheduling();

    /** True once it has begun to work. */
    boolean ready();

    /** Units found right since it was started. */
    long verified();

    /** Units found wrong since it was started; planted ones do not count. */
    long errors();

    /** Makes a coming result wrong on purpose. */
    void plant();

    /** True once the planted result was found wrong by the ordinary verification. */
    boolean plantCaught();

    /** What happened since it was last asked. Never blocks. */
    List<Fact> check(long nowNanos);

    /** Takes the load off and returns when nothing of it is left, within about two seconds. */
    void stop();

    /**
     * Something that happened to a load.
     *
     * @param fatal true if the load is gone or of no use any more
     */
    record Fact(EventKind kind, Map<String, Object> facts, boolean fatal) {
        public Fact {
            facts = Map.copyOf(facts);
        }
    }

    /** Starts loads. */
    interface Starter {
        Work start(LoadKind kind, Stage stage) throws IOException;
    }
}

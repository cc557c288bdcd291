// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.procedure.LoadKind;
import dev.loadwitness.runlog.procedure.Stage;
import java.io.IOException;
import java.time.Duration;
import java.util.List;
import java.util.Map;

/** A load that is running, as the run sees it. */
public interface Work {
    LoadKind kind();

    /** The scheduling class that the system gave, for the log. */
    String scheduling();

    /** What it runs on, for the log; empty where the role says it all. */
    default Map<String, Object> device() {
        return Map.of();
    }

    /** Address of the device that it runs on, as in {@code Channel.component}; empty if unknown. */
    default String component() {
        return "";
    }

    /** True once it has begun to work. */
    boolean ready();

    /** How long it may take to begin: a load that looks for its heaviest form first takes longer. */
    default Duration readyWithin() {
        return Duration.ofSeconds(90);
    }

    /** What the loaded part draws now, in watts. */
    default void power(double watts) {
        // Most loads have no use for it.
    }

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

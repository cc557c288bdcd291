// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor;

import dev.loadwitness.runlog.EventKind;
import java.time.Duration;
import java.util.Map;

/** A change in who answers, or what a source saw beside its readings. What they mean is the reader's business. */
public sealed interface SensorFact {
    String source();

    <R> R accept(Handler<R> handler);

    /** One method for each kind, so that a new kind breaks the build where it is forgotten. */
    interface Handler<R> {
        R silent(SourceSilent fact);

        R back(SourceBack fact);

        R noticed(Noticed fact);
    }

    /** The source missed its deadline or failed; its channels are NaN until it is back. */
    record SourceSilent(String source, String detail) implements SensorFact {
        @Override
        public <R> R accept(Handler<R> handler) {
            return handler.silent(this);
        }
    }

    /** The source answers in time again, {@code after} this long without. */
    record SourceBack(String source, Duration after) implements SensorFact {
        @Override
        public <R> R accept(Handler<R> handler) {
            return handler.back(this);
        }
    }

    /**
     * Something that belongs into the log as it is: a device lost, a driver restarted, a message of the kernel.
     *
     * @param facts as the event's kind prescribes them: {@link String}, {@link Boolean} or a finite {@link Double}
     */
    record Noticed(String source, EventKind kind, Map<String, Object> facts) implements SensorFact {
        public Noticed {
            facts = Map.copyOf(facts);
        }

        @Override
        public <R> R accept(Handler<R> handler) {
            return handler.noticed(this);
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor;

import static java.util.Objects.requireNonNull;

import java.time.Duration;

/** A change in who answers. Facts only: what they mean is the reader's business. */
public sealed interface SensorFact {
    String source();

    <R> R accept(Handler<R> handler);

    /** One method for each kind, so that a new kind breaks the build where it is forgotten. */
    interface Handler<R> {
        R silent(SourceSilent fact);

        R back(SourceBack fact);
    }

    /** The source missed its deadline or failed; its channels are NaN until it is back. */
    record SourceSilent(String source, String detail) implements SensorFact {
        public SourceSilent {
            requireNonNull(source, "source");
            requireNonNull(detail, "detail");
        }

        @Override
        public <R> R accept(Handler<R> handler) {
            return handler.silent(this);
        }
    }

    /** The source answers in time again, {@code after} this long without. */
    record SourceBack(String source, Duration after) implements SensorFact {
        public SourceBack {
            requireNonNull(source, "source");
            requireNonNull(after, "after");
        }

        @Override
        public <R> R accept(Handler<R> handler) {
            return handler.back(this);
        }
    }
}

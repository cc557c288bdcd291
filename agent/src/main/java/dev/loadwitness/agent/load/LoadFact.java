// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load;

import static java.util.Objects.requireNonNull;

import java.time.Duration;

/** Something that happened to a load. */
public sealed interface LoadFact {
    /** One result was wrong. {@code detail} says what was expected, what came, and where. */
    record Wrong(String detail) implements LoadFact {
        public Wrong {
            requireNonNull(detail, "detail");
        }
    }

    /** The worker ended without being told to. */
    record Died(String detail) implements LoadFact {
        public Died {
            requireNonNull(detail, "detail");
        }
    }

    /** The worker lives and has said nothing for so long. */
    record Stalled(Duration silence) implements LoadFact {
        public Stalled {
            requireNonNull(silence, "silence");
        }
    }
}

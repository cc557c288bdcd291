// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import static java.util.Objects.requireNonNull;

/** A stretch in which a flag was up in every sample: from the first such sample to the first one without it. */
public record Spell(At from, double seconds) {
    public Spell {
        requireNonNull(from, "from");
    }
}

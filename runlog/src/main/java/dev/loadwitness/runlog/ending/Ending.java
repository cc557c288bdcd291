// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.ending;

import java.util.Collections;
import java.util.EnumMap;
import java.util.Map;
import java.util.Optional;

/**
 * What the evidence says about one end. Several ends look alike, so this is never one guess: each cause is shown, left
 * open, or excluded, with the evidence for it in one clause.
 *
 * @param shown evidence speaks for it
 * @param open nothing excludes it
 * @param excluded something speaks against it
 */
public record Ending(Map<EndCause, String> shown, Map<EndCause, String> open, Map<EndCause, String> excluded) {
    public Ending {
        shown = ordered(shown);
        open = ordered(open);
        excluded = ordered(excluded);
    }

    /**
     * What the facts of a {@code boot-evidence} record leave. Facts and words that this version does not know count as not
     * learned; no facts at all leave every cause open.
     *
     * @param facts by the words of {@link Fact}
     */
    public static Ending of(Map<String, String> facts) {
        return Classification.of(facts);
    }

    private static Map<EndCause, String> ordered(Map<EndCause, String> causes) {
        Map<EndCause, String> copy = new EnumMap<>(EndCause.class);
        copy.putAll(causes);
        return Collections.unmodifiableMap(copy);
    }

    /**
     * With whom it lies: with whatever is shown; else with the machine if a cause of the machine is left open, for a
     * button held down or a plug pulled looks just like it and nobody was asked to do so; else with what is left.
     */
    public Optional<EndCause.By> by() {
        if (!shown.isEmpty()) {
            return Optional.of(shown.keySet().iterator().next().by());
        }
        if (open.keySet().stream().anyMatch(c -> c.by() == EndCause.By.MACHINE)) {
            return Optional.of(EndCause.By.MACHINE);
        }
        return open.keySet().stream().findFirst().map(EndCause::by);
    }
}

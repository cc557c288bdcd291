// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import dev.loadwitness.agent.resume.Decision;
import dev.loadwitness.agent.resume.Unfinished;
import dev.loadwitness.runlog.Boot;
import java.util.LinkedHashMap;
import java.util.Map;

/** Gathers evidence of how the last boot, or the agent in it, came to its end. Called after the boot record is written. */
interface EndEvidence {
    /**
     * Facts for a {@code boot-evidence} record.
     *
     * @param before the log up to its end: identity of that boot, last time known
     * @param now the present start
     */
    Map<String, String> gather(Unfinished before, Boot now);

    /** Of this machine. */
    static EndEvidence ofThisMachine() {
        return (before, now) -> {
            Map<String, String> facts = new LinkedHashMap<>();
            before.lastBoot()
                    .filter(b -> !b.bootId().isEmpty() && !now.bootId().isEmpty())
                    .ifPresent(b -> facts.put("same-boot", Decision.isSameBoot(b, now) ? "yes" : "no"));
            return facts;
        };
    }
}

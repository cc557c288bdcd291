// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.breakdown;

import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Table;
import dev.loadwitness.reporter.scan.follow.At;
import java.util.List;
import java.util.Optional;

/**
 * One thing that ended the run, or a stage, before its time.
 *
 * @param byMachine whether it lies with the machine; else with a person, the system, the witness, or it cannot be told
 * @param text one sentence, or a few
 * @param evidence where to look
 * @param at last sample before it, or its event; empty if there is none
 * @param causes those shown, else those not excluded; empty for what was no death
 * @param tables causes, times, last minute; empty for what was no death
 */
public record Interruption(
        boolean byMachine, String text, Evidence evidence, Optional<At> at, String causes, List<Table> tables) {
    /** Of what was no death. */
    Interruption(boolean byMachine, String text, Evidence evidence, Optional<At> at) {
        this(byMachine, text, evidence, at, "", List.of());
    }

    public Interruption {
        tables = List.copyOf(tables);
    }
}

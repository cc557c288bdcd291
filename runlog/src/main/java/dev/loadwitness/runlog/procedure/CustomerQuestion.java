// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import dev.loadwitness.runlog.Word;

/** What a customer asks of a repaired machine, in the order in which page 1 answers. */
public enum CustomerQuestion implements Word {
    STAY_ON,
    LOADED,
    COOL,
    FREE,
    RIGHT,
    POWERED,
    PARTS,
    RECORD
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.runlog.command.Sysexits;

/** Exit statuses below 64, as the help of each command lists them; the others are {@link Sysexits}. */
final class Exit {
    static final int PASS = 0;
    static final int FAIL = 1;
    static final int INCONCLUSIVE = 2;

    private Exit() {}

    static int of(Judgement judgement) {
        if (judgement.damaged()) {
            return Sysexits.DATA;
        }
        return switch (judgement.verdict().outcome()) {
            case PASS -> PASS;
            case FAIL -> FAIL;
            default -> INCONCLUSIVE;
        };
    }
}

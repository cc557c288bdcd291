// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.reporter.verdict.Judgement;

/** Exit statuses, as the help of each command lists them. Those above 63 are the BSD sysexits. */
final class Exit {
    static final int PASS = 0;
    static final int FAIL = 1;
    static final int INCONCLUSIVE = 2;
    static final int USAGE = 64;
    /** Damaged or malformed input. */
    static final int DATA = 65;
    /** Input that cannot be opened. */
    static final int NO_INPUT = 66;

    static final int SOFTWARE = 70;
    static final int CANNOT_CREATE = 73;
    static final int IO = 74;

    private Exit() {}

    static int of(Judgement judgement) {
        if (judgement.damaged()) {
            return DATA;
        }
        return switch (judgement.verdict().outcome()) {
            case PASS -> PASS;
            case FAIL -> FAIL;
            default -> INCONCLUSIVE;
        };
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import dev.loadwitness.reporter.scan.Scan;
import dev.loadwitness.reporter.scan.Segment;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.CloseReason;
import java.util.Optional;

/** Everything that the page shows of one run. */
record Run(Judgement judgement, Readings readings, Moments moments) {
    /** The page opens on this long before an interruption. */
    static final double LAST_SECONDS = 60;

    Verdict verdict() {
        return judgement.verdict();
    }

    Scan scan() {
        return judgement.scan();
    }

    /** Where the run was cut short: the last sample of the first segment that ended without being told to. */
    Optional<At> cutShort() {
        for (int i = 0; i < scan().segments().size(); i++) {
            Segment segment = scan().segments().get(i);
            boolean goesOn = i + 1 < scan().segments().size();
            if (segment.last() != null && (goesOn || scan().close().isEmpty())) {
                return Optional.of(segment.last());
            }
        }
        boolean whole = scan().close()
                .map(c -> c.reason().equals(CloseReason.COMPLETED.word()))
                .orElse(false);
        return whole || scan().segments().isEmpty()
                ? Optional.empty()
                : Optional.ofNullable(
                        scan().segments().get(scan().segments().size() - 1).last());
    }
}

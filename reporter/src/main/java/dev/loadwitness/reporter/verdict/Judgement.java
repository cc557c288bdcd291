// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.verdict;

import dev.loadwitness.reporter.scan.Scan;
import dev.loadwitness.runlog.file.read.ReadSummary;
import java.util.List;

/**
 * The verdict, and the scan that it rests on, for whoever draws.
 *
 * @param earlier what reading the logs of earlier attempts showed, in the order in which they were given
 */
public record Judgement(Verdict verdict, Scan scan, List<ReadSummary> earlier) {
    public Judgement {
        earlier = List.copyOf(earlier);
    }

    /** True if the log was altered or is broken beyond what a crash during an append leaves. */
    public boolean damaged() {
        return !scan.read().whole();
    }
}

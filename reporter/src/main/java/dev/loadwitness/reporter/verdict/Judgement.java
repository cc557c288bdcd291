// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.verdict;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.reporter.scan.Scan;

/** The verdict, and the scan that it rests on, for whoever draws. */
public record Judgement(Verdict verdict, Scan scan) {
    public Judgement {
        requireNonNull(verdict, "verdict");
        requireNonNull(scan, "scan");
    }

    /** True if the log was altered or is broken beyond what a crash during an append leaves. */
    public boolean damaged() {
        return !scan.read().whole();
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.verdict;

import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.Scan;
import dev.loadwitness.runlog.procedure.Criterion;
import java.util.Comparator;
import java.util.List;
import java.util.stream.Collectors;

/** The one sentence that says what happened and what it points to. */
final class Sentence {
    /** Causes before their effects. */
    private static final Comparator<Finding> BY_CAUSE =
            Comparator.comparingInt(f -> f.criterion().rank());

    private Sentence() {}

    static String of(Outcome outcome, List<Finding> findings, Scan scan) {
        List<Finding> mandatory = findings.stream().filter(Finding::mandatory).toList();
        if (!scan.read().whole()) {
            return damaged(mandatory);
        }
        return switch (outcome) {
            case FAIL -> failed(mandatory, findings);
            case PASS -> passed(mandatory);
            default -> open(mandatory, scan);
        };
    }

    private static String damaged(List<Finding> mandatory) {
        return mandatory.stream()
                .filter(f -> f.criterion() == Criterion.EVIDENCE)
                .map(Finding::because)
                .findFirst()
                .orElse("The log is damaged or was altered: nothing that it says can be relied on.");
    }

    /** The cause, what it hangs on where that was isolated, and what else failed. */
    private static String failed(List<Finding> mandatory, List<Finding> findings) {
        Finding cause = first(mandatory, Outcome.FAIL);
        String hangsOn = findings.stream()
                .filter(f -> f.criterion() == Criterion.ISOLATION && f.outcome() == Outcome.FAIL)
                .filter(f -> cause.criterion() != Criterion.ISOLATION)
                .map(f -> " " + f.because())
                .findFirst()
                .orElse("");
        return cause.because() + hangsOn + others(mandatory, Outcome.FAIL);
    }

    private static Finding first(List<Finding> mandatory, Outcome outcome) {
        return mandatory.stream()
                .filter(f -> f.outcome() == outcome)
                .min(BY_CAUSE)
                .orElseThrow();
    }

    private static String others(List<Finding> mandatory, Outcome outcome) {
        String names = mandatory.stream()
                .filter(f -> f.outcome() == outcome)
                .sorted(BY_CAUSE)
                .skip(1)
                .filter(f -> f.criterion() != Criterion.ISOLATION)
                .map(Sentence::name)
                .collect(Collectors.joining(", "));
        return names.isEmpty() ? "" : " Also failed: " + names + ".";
    }

    private static String passed(List<Finding> mandatory) {
        return mandatory.stream()
                .filter(f -> f.criterion() == Criterion.SOAK_DURATION && f.outcome() == Outcome.PASS)
                .map(Finding::because)
                .findFirst()
                .orElseGet(() -> "Everything that was asked passed. "
                        + mandatory.stream()
                                .filter(f -> f.outcome() == Outcome.PASS)
                                .filter(f -> f.criterion() != Criterion.EVIDENCE)
                                .max(BY_CAUSE)
                                .map(Finding::because)
                                .orElse(""));
    }

    /** What was cut short is said before what was never measured, and what was never measured is listed whole. */
    private static String open(List<Finding> mandatory, Scan scan) {
        List<Finding> cut = mandatory.stream()
                .filter(f -> f.outcome() == Outcome.INCONCLUSIVE)
                .sorted(BY_CAUSE)
                .toList();
        List<Finding> unmeasured = mandatory.stream()
                .filter(f -> f.outcome() == Outcome.NOT_MEASURED)
                .sorted(BY_CAUSE)
                .toList();
        if (scan.procedure().provedParts().isEmpty()) {
            return "Nothing was shown: this run put no load of ours on any part of the machine.";
        }
        boolean brokeOff = !cut.isEmpty() && cut.get(0).criterion() == Criterion.INTERRUPTIONS;
        StringBuilder text = new StringBuilder(brokeOff ? "" : "Nothing failed, but not everything was shown. ");
        if (!cut.isEmpty()) {
            text.append(cut.get(0).because()).append(' ');
        }
        if (!unmeasured.isEmpty()) {
            if (cut.isEmpty()) {
                text.append(unmeasured.get(0).because()).append(' ');
            }
            text.append("Not measured: ")
                    .append(unmeasured.stream().map(Sentence::name).collect(Collectors.joining(", ")))
                    .append('.');
        }
        return text.toString().strip();
    }

    private static String name(Finding f) {
        return f.criterion().word() + (f.subject().isEmpty() ? "" : " (" + f.subject() + ")");
    }
}

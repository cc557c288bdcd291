// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.procedure.CustomerQuestion;
import java.util.Comparator;
import java.util.List;
import java.util.Optional;
import java.util.stream.Stream;

/** What page 1 answers to a question of the customer: the worst that a criterion of the question found, and why. */
record Answer(CustomerQuestion question, Outcome outcome, String because) {
    private static final List<Outcome> WORST_FIRST =
            List.of(Outcome.FAIL, Outcome.INCONCLUSIVE, Outcome.NOT_MEASURED, Outcome.PASS, Outcome.NOT_APPLICABLE);

    String questionKey() {
        return "question." + question.word();
    }

    String key() {
        return switch (outcome) {
            case PASS -> "answer.pass";
            case FAIL -> "answer.fail";
            case NOT_APPLICABLE -> "answer.none";
            case INCONCLUSIVE, NOT_MEASURED -> "answer.open";
        };
    }

    /** To the questions that a mandatory criterion of this run answers; advisory ones decide nothing here either. */
    static List<Answer> of(Verdict verdict) {
        return Stream.of(CustomerQuestion.values())
                .flatMap(question -> to(question, verdict).stream())
                .toList();
    }

    private static Optional<Answer> to(CustomerQuestion question, Verdict verdict) {
        return verdict.findings().stream()
                .filter(Finding::mandatory)
                .filter(f -> f.criterion().question() == question)
                .min(Comparator.comparingInt((Finding f) -> WORST_FIRST.indexOf(f.outcome()))
                        .thenComparing(Finding::criterion))
                .map(f -> new Answer(question, f.outcome(), said(f)));
    }

    /**
     * Of what passed one sentence is enough for the customer, and of a death what it points to; the rest stands with the
     * criterion.
     */
    private static String said(Finding finding) {
        if (finding.doubted()) {
            return Finding.NOT_RELIED_ON;
        }
        String because = finding.because();
        int end = finding.outcome() == Outcome.PASS ? because.indexOf(". ") : because.indexOf(". Not excluded: ");
        return end > 0 ? because.substring(0, end + 1) : because;
    }
}

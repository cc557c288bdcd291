// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import dev.loadwitness.reporter.criteria.Finding;
import dev.loadwitness.reporter.criteria.Outcome;
import dev.loadwitness.reporter.verdict.Verdict;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.List;
import java.util.Locale;
import java.util.Optional;

/** What a customer asks, and which criteria answer it; the most telling first. */
enum Question {
    STAY_ON("interruptions", "cold-starts"),
    LOADED("soak-duration", "power-held", "limit-withdrawn", "power-plausible", "energy-agrees", "power-steady"),
    COOL("temperature-ceiling", "temperature-plateau", "plateau", "settled", "repeat-soak", "fans"),
    FREE("throttle", "ramp", "load-steps", "clock-held", "isolation"),
    RIGHT("compute-errors", "memory-errors", "hardware-errors"),
    POWERED("charging"),
    PARTS("devices", "rails", "hand-checks"),
    /** Whatever a newer procedure asks. */
    OTHER(),
    RECORD("evidence");

    private final List<String> criteria;

    Question(String... criteria) {
        this.criteria = List.of(criteria);
    }

    String key() {
        return "question." + name().toLowerCase(Locale.ROOT).replace('_', '-');
    }

    private static Question of(Finding finding) {
        for (Question q : values()) {
            if (q.criteria.contains(finding.criterion().word())) {
                return q;
            }
        }
        return OTHER;
    }

    /** Of the questions that a mandatory criterion of this run answers; advisory ones decide nothing here either. */
    static List<Answer> answers(Verdict verdict) {
        List<Answer> answers = new ArrayList<>();
        for (Question question : values()) {
            List<Finding> about = verdict.findings().stream()
                    .filter(Finding::mandatory)
                    .filter(f -> of(f) == question)
                    .sorted(Comparator.comparingInt(
                            f -> question.criteria.indexOf(f.criterion().word())))
                    .toList();
            for (Outcome outcome : List.of(
                    Outcome.FAIL, Outcome.INCONCLUSIVE, Outcome.NOT_MEASURED, Outcome.PASS, Outcome.NOT_APPLICABLE)) {
                Optional<Finding> first =
                        about.stream().filter(f -> f.outcome() == outcome).findFirst();
                if (first.isPresent()) {
                    answers.add(new Answer(question, outcome, said(first.get())));
                    break;
                }
            }
        }
        return answers;
    }

    /**
     * Of what passed one sentence is enough for the customer, and of a death what it points to; the rest stands with the
     * criterion.
     */
    private static String said(Finding finding) {
        if (finding.because().startsWith(Finding.NOT_RELIED_ON)) {
            return Finding.NOT_RELIED_ON;
        }
        String because = finding.because();
        int end = finding.outcome() == Outcome.PASS ? because.indexOf(". ") : because.indexOf(". Not excluded: ");
        return end > 0 ? because.substring(0, end + 1) : because;
    }

    /** The worst that a criterion of the question found, and why. */
    record Answer(Question question, Outcome outcome, String because) {
        String key() {
            return switch (outcome) {
                case PASS -> "answer.pass";
                case FAIL -> "answer.fail";
                case NOT_APPLICABLE -> "answer.none";
                case INCONCLUSIVE, NOT_MEASURED -> "answer.open";
            };
        }
    }
}

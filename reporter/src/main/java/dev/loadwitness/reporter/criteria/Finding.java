// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.List;
import java.util.OptionalDouble;
import java.util.stream.Stream;

/**
 * What one criterion found. All texts are finished: rounded by their uncertainty, with unit, the same on every machine.
 *
 * @param subject the part it is about, for example {@code gpu-discrete}; empty for the run as a whole
 * @param measured value and unit; empty if nothing was measured
 * @param limit value and unit
 * @param limitOrigin where the limit is from: device, procedure, default, job sheet
 * @param uncertainty expanded, k = 2, with unit; empty where it has no meaning (counts)
 * @param margin distance to the limit, positive on the good side; empty if nothing was measured
 * @param conformity probability that the true value meets the limit, where an uncertainty is known
 * @param because one sentence
 * @param tables what does not fit into a sentence
 */
public record Finding(
        Criterion criterion,
        String subject,
        boolean mandatory,
        Outcome outcome,
        String measured,
        String limit,
        String limitOrigin,
        String uncertainty,
        String margin,
        OptionalDouble conformity,
        String because,
        List<Evidence> evidence,
        List<Table> tables) {
    /** How every finding of a damaged log begins. */
    public static final String NOT_RELIED_ON = "Not relied on, because the log is damaged or was altered.";

    public Finding {
        requireNonNull(criterion, "criterion");
        requireNonNull(subject, "subject");
        requireNonNull(outcome, "outcome");
        requireNonNull(measured, "measured");
        requireNonNull(limit, "limit");
        requireNonNull(limitOrigin, "limitOrigin");
        requireNonNull(uncertainty, "uncertainty");
        requireNonNull(margin, "margin");
        requireNonNull(conformity, "conformity");
        requireNonNull(because, "because");
        evidence = List.copyOf(evidence);
        tables = List.copyOf(tables);
    }

    /** A finding without tables. */
    public Finding(
            Criterion criterion,
            String subject,
            boolean mandatory,
            Outcome outcome,
            String measured,
            String limit,
            String limitOrigin,
            String uncertainty,
            String margin,
            OptionalDouble conformity,
            String because,
            List<Evidence> evidence) {
        this(
                criterion,
                subject,
                mandatory,
                outcome,
                measured,
                limit,
                limitOrigin,
                uncertainty,
                margin,
                conformity,
                because,
                evidence,
                List.of());
    }

    /** A finding that so far only says how it came out, and why. */
    static Finding of(CriterionSetting setting, String subject, Outcome outcome, String because) {
        return new Finding(
                setting.criterion(),
                subject,
                setting.mandatory(),
                outcome,
                "",
                "",
                "",
                "",
                "",
                OptionalDouble.empty(),
                because,
                List.of());
    }

    /** The same of a damaged log: what looks like a pass is none. */
    public Finding notReliedOn() {
        return outcome != Outcome.PASS
                ? this
                : with(Outcome.INCONCLUSIVE, NOT_RELIED_ON + " " + because, uncertainty, conformity);
    }

    Finding against(String limit, String limitOrigin) {
        return with(measured, limit, limitOrigin, margin, evidence);
    }

    Finding measured(String measured, String margin) {
        return with(measured, limit, limitOrigin, margin, evidence);
    }

    Finding uncertain(String uncertainty, double conformity) {
        return with(outcome, because, uncertainty, OptionalDouble.of(conformity));
    }

    /** An uncertainty of something that nothing was decided about. */
    Finding uncertain(String uncertainty) {
        return with(outcome, because, uncertainty, conformity);
    }

    Finding seen(List<Evidence> evidence) {
        return with(measured, limit, limitOrigin, margin, evidence);
    }

    Finding told(List<Table> tables) {
        return new Finding(
                criterion,
                subject,
                mandatory,
                outcome,
                measured,
                limit,
                limitOrigin,
                uncertainty,
                margin,
                conformity,
                because,
                evidence,
                tables);
    }

    /** Puts a table after those that are there. */
    Finding toldAlso(Table table) {
        return told(Stream.concat(tables.stream(), Stream.of(table)).toList());
    }

    private Finding with(Outcome outcome, String because, String uncertainty, OptionalDouble conformity) {
        return new Finding(
                criterion,
                subject,
                mandatory,
                outcome,
                measured,
                limit,
                limitOrigin,
                uncertainty,
                margin,
                conformity,
                because,
                evidence,
                tables);
    }

    private Finding with(String measured, String limit, String limitOrigin, String margin, List<Evidence> evidence) {
        return new Finding(
                criterion,
                subject,
                mandatory,
                outcome,
                measured,
                limit,
                limitOrigin,
                uncertainty,
                margin,
                conformity,
                because,
                evidence,
                tables);
    }
}

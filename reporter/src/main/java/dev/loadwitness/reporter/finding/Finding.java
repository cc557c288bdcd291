// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.finding;

import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.List;
import java.util.OptionalDouble;
import java.util.stream.Stream;

/**
 * What one criterion found.
 *
 * @param subject the part it is about, for example {@code gpu-discrete}; empty for the run as a whole
 * @param mandatory false if it is printed, but decides nothing
 * @param because one sentence
 * @param tables what does not fit into a sentence
 */
public record Finding(
        Criterion criterion,
        String subject,
        boolean mandatory,
        Outcome outcome,
        Measurement measurement,
        String because,
        List<Evidence> evidence,
        List<Table> tables) {
    /** How every finding of a damaged log begins. */
    public static final String NOT_RELIED_ON = "Not relied on, because the log is damaged or was altered.";

    public Finding {
        evidence = List.copyOf(evidence);
        tables = List.copyOf(tables);
    }

    /** A finding that so far only says how it came out, and why. */
    public static Finding of(CriterionSetting setting, String subject, Outcome outcome, String because) {
        return new Finding(
                setting.criterion(),
                subject,
                setting.mandatory(),
                outcome,
                Measurement.NONE,
                because,
                List.of(),
                List.of());
    }

    /** As printed: rounded, with unit; empty if nothing was measured. */
    public String measured() {
        return FindingText.of(measurement.value());
    }

    /** As printed; empty if there is none. */
    public String limit() {
        return FindingText.of(measurement.limit());
    }

    /** Where the limit is from: device, procedure, default, job sheet. */
    public String limitOrigin() {
        return measurement.limitOrigin();
    }

    /** Expanded, k = 2, as printed; empty where it has no meaning (counts). */
    public String uncertainty() {
        return measurement.expanded().map(FindingText::of).orElse("");
    }

    /** Distance to the limit as printed, positive on the good side; empty where none is told. */
    public String margin() {
        return FindingText.signed(measurement.margin());
    }

    /** Probability that the true value meets the limit, where an uncertainty is known. */
    public OptionalDouble conformity() {
        return measurement.conformity();
    }

    /** Whether it is of a damaged log: nothing is sure of what it tells. */
    public boolean doubted() {
        return because.startsWith(NOT_RELIED_ON);
    }

    /** The same of a damaged log: what looks like a pass is none. */
    public Finding notReliedOn() {
        String doubted = NOT_RELIED_ON + " " + because;
        return outcome == Outcome.PASS
                ? new Finding(
                        criterion, subject, mandatory, Outcome.INCONCLUSIVE, measurement, doubted, evidence, tables)
                : this;
    }

    public Finding measured(Value value) {
        return with(measurement.of(value));
    }

    public Finding against(Limit limit, String origin) {
        return with(measurement.against(limit, origin));
    }

    public Finding uncertain(Amount expanded, double conformity) {
        return with(measurement.uncertain(expanded, OptionalDouble.of(conformity)));
    }

    /** An uncertainty of something that nothing was decided about. */
    public Finding uncertain(Amount expanded) {
        return with(measurement.uncertain(expanded, OptionalDouble.empty()));
    }

    public Finding seen(List<Evidence> where) {
        return new Finding(criterion, subject, mandatory, outcome, measurement, because, where, tables);
    }

    public Finding alsoSeen(Evidence more) {
        return seen(Stream.concat(evidence.stream(), Stream.of(more)).toList());
    }

    public Finding told(List<Table> all) {
        return new Finding(criterion, subject, mandatory, outcome, measurement, because, evidence, all);
    }

    /** Puts a table after those that are there. */
    public Finding toldAlso(Table table) {
        return told(Stream.concat(tables.stream(), Stream.of(table)).toList());
    }

    /** Nothing that the rule found stays: what it looked at measured nothing. */
    public Finding unmeasured(String why, Evidence where) {
        Measurement asked = Measurement.NONE.against(measurement.limit(), measurement.limitOrigin());
        return new Finding(criterion, subject, mandatory, Outcome.NOT_MEASURED, asked, why, List.of(where), List.of());
    }

    private Finding with(Measurement other) {
        return new Finding(criterion, subject, mandatory, outcome, other, because, evidence, tables);
    }
}

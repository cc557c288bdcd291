// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import static java.util.Objects.requireNonNull;

import java.util.Collections;
import java.util.Map;
import java.util.TreeMap;

/**
 * A criterion as one procedure uses it.
 *
 * @param mandatory whether it decides, or is only printed
 * @param given values that the procedure states, by parameter name, in the parameter's own unit
 */
public record CriterionSetting(Criterion criterion, boolean mandatory, Map<String, Double> given) {
    public CriterionSetting {
        requireNonNull(criterion, "criterion");
        // In the order of the names: an unordered copy would print differently from run to run.
        given = Collections.unmodifiableMap(new TreeMap<>(Map.copyOf(given)));
        given.keySet().forEach(criterion::parameter);
    }

    /** The value in force: what the procedure says, else the default. */
    public double value(String parameter) {
        return given.getOrDefault(parameter, criterion.parameter(parameter).defaultValue());
    }

    /** Where the value in force is from: {@code procedure} or {@code default}. */
    public String origin(String parameter) {
        return given.containsKey(parameter) ? "procedure" : "default";
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

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
        // In the order of the names: an unordered copy would print differently from run to run.
        given = Collections.unmodifiableMap(new TreeMap<>(Map.copyOf(given)));
        given.keySet().forEach(criterion::parameter);
    }

    /** The value in force: what the procedure says, else the default. So do all methods named after a unit. */
    public double seconds(Parameter<Parameter.Seconds> parameter) {
        return value(parameter);
    }

    public double share(Parameter<Parameter.Share> parameter) {
        return value(parameter);
    }

    public double celsius(Parameter<Parameter.Celsius> parameter) {
        return value(parameter);
    }

    /** A difference of temperatures. */
    public double kelvin(Parameter<Parameter.Kelvin> parameter) {
        return value(parameter);
    }

    public double kelvinPerWatt(Parameter<Parameter.KelvinPerWatt> parameter) {
        return value(parameter);
    }

    public long count(Parameter<Parameter.Count> parameter) {
        return Math.round(value(parameter));
    }

    private double value(Parameter<?> parameter) {
        return given.getOrDefault(own(parameter).name(), parameter.defaultValue());
    }

    /** Where the value in force is from: {@code procedure} or {@code default}. */
    public String origin(Parameter<?> parameter) {
        return given.containsKey(own(parameter).name()) ? "procedure" : "default";
    }

    private Parameter<?> own(Parameter<?> parameter) {
        if (!criterion.parameters().contains(parameter)) {
            throw new IllegalArgumentException(criterion.word() + " has no parameter " + parameter);
        }
        return parameter;
    }
}

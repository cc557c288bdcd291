// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.finding;

import java.util.Optional;
import java.util.OptionalDouble;
import java.util.stream.Stream;

/**
 * What was measured, and what it is held against, in numbers.
 *
 * @param limitOrigin where the limit is from: device, procedure, default, job sheet
 * @param expanded expanded uncertainty, k = 2; empty where it has no meaning (counts)
 * @param conformity probability that the true value meets the limit, where an uncertainty is known
 */
public record Measurement(
        Value value, Limit limit, String limitOrigin, Optional<Amount> expanded, OptionalDouble conformity) {
    /** Nothing was measured, and nothing asked for. */
    public static final Measurement NONE =
            new Measurement(Value.none(), Limit.none(), "", Optional.empty(), OptionalDouble.empty());

    public Measurement {
        if (amounts(value, limit).map(Amount::unit).distinct().count() > 1) {
            throw new IllegalArgumentException("value " + value + " and limit " + limit + " are in different units");
        }
    }

    private static Stream<Amount> amounts(Value value, Limit limit) {
        return Stream.concat(value.amount().stream(), limit.ends().stream());
    }

    /** Of value and limit, while uncertainty and margin are differences; empty where both are words. */
    public Optional<Unit> unit() {
        return amounts(value, limit).map(Amount::unit).findFirst();
    }

    /** Distance to the limit, positive on the good side; empty where nothing was measured or none is told. */
    public Optional<Amount> margin() {
        return value.amount().flatMap(limit::margin);
    }

    Measurement of(Value other) {
        return new Measurement(other, limit, limitOrigin, expanded, conformity);
    }

    Measurement against(Limit other, String origin) {
        return new Measurement(value, other, origin, expanded, conformity);
    }

    Measurement uncertain(Amount amount, OptionalDouble probability) {
        return new Measurement(value, limit, limitOrigin, Optional.of(amount), probability);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.finding;

import dev.loadwitness.reporter.statistics.Rounding;
import java.util.Optional;

/** How the numbers of findings are printed: the same on every machine. */
public final class FindingText {
    private FindingText() {}

    public static String of(Value value) {
        if (value instanceof Value.Single n) {
            String text =
                    switch (n.sign()) {
                        case MINUS -> of(n.number());
                        case BOTH -> signed(n.number());
                        case NONE -> of(at(Math.abs(n.number().held()), n.number()));
                    };
            return n.before() + text + n.after();
        }
        return ((Value.Said) value).words();
    }

    public static String of(Limit limit) {
        if (limit instanceof Limit.End e) {
            return e.before()
                    + (e.allowed() == Limit.Side.AT_MOST ? "at most " : "at least ")
                    + of(e.end())
                    + e.after();
        }
        if (limit instanceof Limit.Band b) {
            // Volts are told as on the job sheet, each with its unit.
            return (b.least().unit() == Unit.VOLT ? of(b.least()) : number(b.least())) + " to " + of(b.most());
        }
        return limit instanceof Limit.Within w ? "within " + of(w.most()) : ((Limit.Said) limit).words();
    }

    public static String of(Amount amount) {
        return amount.digits() == Amount.Digits.TIME || amount.unit().sign().isEmpty()
                ? number(amount)
                : number(amount) + " " + amount.unit().sign();
    }

    /** With its sign, also where that is a plus. */
    public static String signed(Amount amount) {
        if (amount.held() >= 0) {
            return "+" + of(amount);
        }
        return amount.digits() == Amount.Digits.TIME ? "-" + of(at(-amount.held(), amount)) : of(amount);
    }

    public static String signed(Optional<Amount> amount) {
        return amount.map(FindingText::signed).orElse("");
    }

    private static Amount at(double held, Amount like) {
        return new Amount(held, like.unit(), like.digits());
    }

    private static String number(Amount amount) {
        double number = amount.number();
        return switch (amount.digits()) {
            case WHOLE -> Texts.number(number, 0);
            case TENTHS -> Texts.number(number, 1);
            case HUNDREDTHS -> Texts.number(number, 2);
            case THOUSANDTHS -> Texts.number(number, 3);
            case GROUPED -> Texts.count(Math.round(number));
            case AS_WRITTEN -> Texts.asWritten(number);
            case SIGNIFICANT ->
                number == 0 ? "0" : Rounding.withUncertainty(0, number).uncertainty();
            case TIME -> Texts.duration(number);
        };
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.finding;

import java.util.List;
import java.util.Optional;

/** What a value must keep to: one end or two, or words where no single number says it. */
public sealed interface Limit {
    /** No limit was given. */
    static Limit none() {
        return new Said("");
    }

    /** Which values it allows; empty for words. */
    default Optional<Side> side() {
        return Optional.empty();
    }

    /** Its numbers, all of one unit: of {@link Side#BETWEEN} the lower and the upper, else one; none of words. */
    default List<Amount> ends() {
        return List.of();
    }

    /** Distance of a value to the nearer end, positive on the good side; empty where that is not told. */
    default Optional<Amount> margin(Amount value) {
        return Optional.empty();
    }

    /** For example {@code none}. */
    record Said(String words) implements Limit {}

    /** Which values a limit allows. */
    enum Side {
        AT_MOST("at-most"),
        AT_LEAST("at-least"),
        BETWEEN("between"),
        WITHIN("within");

        private final String word;

        Side(String word) {
            this.word = word;
        }

        /** For programs, for example {@code at-most}. */
        public String word() {
            return word;
        }
    }

    /**
     * One end.
     *
     * @param allowed at most or at least
     * @param before what is printed before it
     * @param after what is printed after it
     */
    record End(Side allowed, Amount end, String before, String after) implements Limit {
        @Override
        public Optional<Side> side() {
            return Optional.of(allowed);
        }

        @Override
        public List<Amount> ends() {
            return List.of(end);
        }

        /** Of counts none is told: how far a count lies from another says nothing that both do not. */
        @Override
        public Optional<Amount> margin(Amount value) {
            return end.unit() == Unit.COUNT
                    ? Optional.empty()
                    : Optional.of(difference(
                            value, allowed == Side.AT_MOST ? end.held() - value.held() : value.held() - end.held()));
        }
    }

    /** From one end to the other. */
    record Band(Amount least, Amount most) implements Limit {
        @Override
        public Optional<Side> side() {
            return Optional.of(Side.BETWEEN);
        }

        @Override
        public List<Amount> ends() {
            return List.of(least, most);
        }

        @Override
        public Optional<Amount> margin(Amount value) {
            return Optional.of(difference(value, Math.min(value.held() - least.held(), most.held() - value.held())));
        }
    }

    /** No further from zero than this, to either side: of two witnesses that should agree, where no margin is told. */
    record Within(Amount most) implements Limit {
        @Override
        public Optional<Side> side() {
            return Optional.of(Side.WITHIN);
        }

        @Override
        public List<Amount> ends() {
            return List.of(most);
        }
    }

    private static Amount difference(Amount value, double held) {
        return new Amount(held, value.unit().difference(), value.digits());
    }

    static Limit atMost(Amount most) {
        return new End(Side.AT_MOST, most, "", "");
    }

    static Limit atLeast(Amount least) {
        return new End(Side.AT_LEAST, least, "", "");
    }

    static Limit said(String words) {
        return new Said(words);
    }
}

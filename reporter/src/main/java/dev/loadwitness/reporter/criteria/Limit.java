// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria;

import static java.util.Objects.requireNonNull;

import java.util.Optional;

/** What a value must keep to: one end or two, or words where no single number says it. */
public sealed interface Limit {
    /** No limit was given. */
    Limit NONE = new Said("");

    /** Of what unit its ends are; empty for words. */
    Optional<Unit> unit();

    /** Distance of a value to the nearer end, positive on the good side; empty where that is not told. */
    default Optional<Amount> margin(Amount value) {
        return Optional.empty();
    }

    /** For example {@code none}. */
    record Said(String words) implements Limit {
        public Said {
            requireNonNull(words, "words");
        }

        @Override
        public Optional<Unit> unit() {
            return Optional.empty();
        }
    }

    /** Which values one end allows. */
    enum Side {
        AT_MOST,
        AT_LEAST
    }

    /**
     * One end.
     *
     * @param before what is printed before it
     * @param after what is printed after it
     */
    record End(Side side, Amount end, String before, String after) implements Limit {
        public End {
            requireNonNull(side, "side");
            requireNonNull(end, "end");
            requireNonNull(before, "before");
            requireNonNull(after, "after");
        }

        @Override
        public Optional<Unit> unit() {
            return Optional.of(end.unit());
        }

        /** Of counts none is told: how far a count lies from another says nothing that both do not. */
        @Override
        public Optional<Amount> margin(Amount value) {
            return end.unit() == Unit.COUNT
                    ? Optional.empty()
                    : Optional.of(difference(
                            value, side == Side.AT_MOST ? end.held() - value.held() : value.held() - end.held()));
        }
    }

    /** From one end to the other. */
    record Band(Amount least, Amount most) implements Limit {
        public Band {
            requireNonNull(least, "least");
            requireNonNull(most, "most");
        }

        @Override
        public Optional<Unit> unit() {
            return Optional.of(most.unit());
        }

        @Override
        public Optional<Amount> margin(Amount value) {
            return Optional.of(difference(value, Math.min(value.held() - least.held(), most.held() - value.held())));
        }
    }

    /** No further from zero than this, to either side: of two witnesses that should agree, where no margin is told. */
    record Within(Amount most) implements Limit {
        public Within {
            requireNonNull(most, "most");
        }

        @Override
        public Optional<Unit> unit() {
            return Optional.of(most.unit());
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

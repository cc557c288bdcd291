// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.finding;

import java.util.Optional;

/** What was measured: one number, or words where no single number says it. */
public sealed interface Value {
    /** The one number; empty for words. */
    default Optional<Amount> amount() {
        return Optional.empty();
    }

    /** For example {@code 3 of 5}. */
    record Said(String words) implements Value {}

    /**
     * One number.
     *
     * @param after what is printed after it, for example {@code  in 10 min}
     */
    record Single(Amount number, Sign sign, String before, String after) implements Value {
        @Override
        public Optional<Amount> amount() {
            return Optional.of(number);
        }
    }

    /** Which signs are printed. */
    enum Sign {
        MINUS,
        BOTH,
        /** The words after the number say which way it goes. */
        NONE
    }

    /** For example {@code 81.2 °C}. */
    static Value of(Amount number) {
        return new Single(number, Sign.MINUS, "", "");
    }

    /** For example {@code +3.2 K}. */
    static Value change(Amount number) {
        return new Single(number, Sign.BOTH, "", "");
    }

    /** Nothing was measured. */
    static Value none() {
        return new Said("");
    }

    static Value said(String words) {
        return new Said(words);
    }
}

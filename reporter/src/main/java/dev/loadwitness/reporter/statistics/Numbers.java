// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

/** Checks of arguments, said once. */
final class Numbers {
    private Numbers() {}

    static double requireFinite(double value, String name) {
        if (!Double.isFinite(value)) {
            throw new IllegalArgumentException(name + " is " + value + "; it must be a finite number");
        }
        return value;
    }

    static double requireNotNegative(double value, String name) {
        if (requireFinite(value, name) < 0) {
            throw new IllegalArgumentException(name + " is " + value + "; it must not be negative");
        }
        return value;
    }

    static double requirePositive(double value, String name) {
        if (requireFinite(value, name) <= 0) {
            throw new IllegalArgumentException(name + " is " + value + "; it must be above zero");
        }
        return value;
    }

    static long requireNotNegative(long value, String name) {
        if (value < 0) {
            throw new IllegalArgumentException(name + " is " + value + "; it must not be negative");
        }
        return value;
    }

    static long requirePositive(long value, String name) {
        if (value <= 0) {
            throw new IllegalArgumentException(name + " is " + value + "; it must be above zero");
        }
        return value;
    }

    /** A probability that is neither certain nor impossible. */
    static double requireOpenProbability(double value, String name) {
        if (!(value > 0 && value < 1)) {
            throw new IllegalArgumentException(name + " is " + value + "; it must lie between 0 and 1, both excluded");
        }
        return value;
    }
}

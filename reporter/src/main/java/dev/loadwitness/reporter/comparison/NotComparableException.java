// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.comparison;

/** Two runs that have nothing in common that could be compared; the message says why, and what to do. */
public final class NotComparableException extends Exception {
    private static final long serialVersionUID = 1L;

    NotComparableException(String message) {
        super(message);
    }
}

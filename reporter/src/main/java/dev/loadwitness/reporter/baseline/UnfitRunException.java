// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.baseline;

/** A run that no band can be made of; the message says why. */
public final class UnfitRunException extends Exception {
    private static final long serialVersionUID = 1L;

    UnfitRunException(String message) {
        super(message);
    }
}

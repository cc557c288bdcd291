// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.windows;

/** A text that is not one whole event within bounds; the message says in one clause why. */
final class UnreadableEvent extends Exception {
    private static final long serialVersionUID = 1L;

    UnreadableEvent(String why) {
        super(why);
    }

    UnreadableEvent(String why, Throwable cause) {
        super(why, cause);
    }
}

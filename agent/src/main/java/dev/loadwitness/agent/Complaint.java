// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

/** What is wrong with what the user gave, where, and what to do; with the exit status for it. */
final class Complaint extends Exception {
    private static final long serialVersionUID = 1L;

    private final int status;

    Complaint(int status, String message) {
        super(message);
        this.status = status;
    }

    int status() {
        return status;
    }
}

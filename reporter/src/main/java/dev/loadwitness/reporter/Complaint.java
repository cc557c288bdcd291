// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.runlog.disk.DiskException;

/** What is wrong with what the user gave, where, and what to do; with the exit status for it. */
final class Complaint extends Exception {
    private static final long serialVersionUID = 1L;

    private final int status;

    Complaint(int status, String message) {
        super(message);
        this.status = status;
    }

    /** The same words; the status follows from the kind. */
    static Complaint of(DiskException e) {
        return new Complaint(
                switch (e.kind()) {
                    case TOO_LARGE, NOT_TEXT -> Exit.DATA;
                    case EXISTS, PRECIOUS, UNWRITABLE -> Exit.CANNOT_CREATE;
                    case MISSING, UNREADABLE, WRONG_KIND, LINK, FOREIGN -> Exit.NO_INPUT;
                },
                e.getMessage());
    }

    int status() {
        return status;
    }
}

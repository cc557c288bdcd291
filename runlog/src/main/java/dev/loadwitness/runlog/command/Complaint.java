// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.command;

import dev.loadwitness.runlog.disk.DiskException;

/** What is wrong with what the user gave, where, and what to do; with the exit status for it. */
public final class Complaint extends Exception {
    private static final long serialVersionUID = 1L;

    private final int status;

    public Complaint(int status, String message) {
        super(message);
        this.status = status;
    }

    /** The same words; the status follows from the kind. */
    public static Complaint of(DiskException e) {
        return new Complaint(
                switch (e.kind()) {
                    case TOO_LARGE, NOT_TEXT -> Sysexits.DATA;
                    case EXISTS, PRECIOUS, UNWRITABLE -> Sysexits.CANNOT_CREATE;
                    case MISSING, UNREADABLE, WRONG_KIND, LINK, FOREIGN -> Sysexits.NO_INPUT;
                },
                e.getMessage());
    }

    /** The same words as of what was caught. */
    public static Complaint of(int status, Exception caught) {
        return new Complaint(status, String.valueOf(caught.getMessage()));
    }

    public int status() {
        return status;
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.read;

import java.io.IOException;

/** The file is no run log that this version reads. The message says which file, why, and what to do. */
public final class UnsupportedLogException extends IOException {
    private static final long serialVersionUID = 1L;

    private final boolean newer;

    UnsupportedLogException(String message, boolean newer) {
        super(message);
        this.newer = newer;
    }

    /** True if a newer version of this program would read it; false if it is no run log. */
    public boolean isNewer() {
        return newer;
    }
}

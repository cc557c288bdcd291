// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.line;

import dev.loadwitness.runlog.Shown;

/** Why a line could not be read as a record. Carries no stack: it is data on its way to a {@link Damage}. */
public final class Fault extends Exception {
    private static final long serialVersionUID = 1L;

    private static final int LONGEST = 300;

    private final Damage.Kind kind;
    private final String detail;

    public Fault(Damage.Kind kind, String detail) {
        // A hostile line's names and numbers may be a megabyte long, or span lines, and a thousand damages are kept.
        super(null, null, false, false);
        this.detail = Shown.line(detail.length() <= LONGEST ? detail : detail.substring(0, LONGEST) + "…");
        this.kind = kind;
    }

    @Override
    public String getMessage() {
        return detail;
    }

    public Damage.Kind kind() {
        return kind;
    }
}

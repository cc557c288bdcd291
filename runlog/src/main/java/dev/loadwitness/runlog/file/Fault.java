// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file;

/** Why a line could not be read as a record. Carries no stack: it is data on its way to a {@link Damage}. */
final class Fault extends Exception {
    private static final long serialVersionUID = 1L;

    private final Damage.Kind kind;

    Fault(Damage.Kind kind, String detail) {
        super(detail, null, false, false);
        this.kind = kind;
    }

    Damage.Kind kind() {
        return kind;
    }
}

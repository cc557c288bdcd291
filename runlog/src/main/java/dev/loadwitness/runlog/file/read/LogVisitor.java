// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.read;

import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.file.line.Damage;
import dev.loadwitness.runlog.file.line.Place;

/** Receives a log in the order of its lines. */
public interface LogVisitor {
    /** A record that was read. It may be the subject of a {@link #damage} with the same place, which came before it. */
    void record(LogRecord record, Place place);

    void damage(Damage damage);
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.follow;

import dev.loadwitness.reporter.scan.Scanning;
import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;

/** Follows one thing through the log, and owns all that it adds up. Registered once, in {@link Scanning}. */
public interface Follower {
    /** A boot begins. */
    default void boot(Boot boot) {}

    /** What the values of the coming samples are; places in the table before mean nothing any more. */
    void table(ChannelTable table);

    /** One more sample. */
    void step(Step step);

    /** Something happened that this version knows. */
    default void event(At at, EventKind kind, Event event) {}

    /** The boot's records are over. */
    default void bootOver() {}
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.ChannelTable;

/** Follows one thing through the log, and owns all that it adds up. Registered once, in {@link Scanning}. */
interface Follower {
    /** A boot begins. */
    default void boot(Boot boot) {}

    /** What the values of the coming samples are; places in the table before mean nothing any more. */
    void table(ChannelTable table);

    /** One more sample. */
    void step(Step step);

    /** The boot's records are over. */
    default void bootOver() {}
}

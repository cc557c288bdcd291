// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor;

import dev.loadwitness.runlog.Channel;
import java.io.IOException;
import java.util.List;

/** Something that can be asked for readings, and that fails as a whole: one chip, one library, one table of the kernel. */
public interface Source extends AutoCloseable {
    /** For people and for {@link Channel#source()}, for example {@code hwmon/coretemp}. */
    String name();

    /** What it offers, fixed for this boot. */
    List<Channel> channels();

    /**
     * Fills {@code into[from …]} with one value for each channel, in their order and units; NaN where there is no answer.
     * May block: whoever calls it does so on a thread it can spare.
     *
     * @throws IOException if the source as a whole gave no answer
     */
    void read(double[] into, int from) throws IOException;

    /** What it saw beside its readings since this was last called. Never blocks; from any thread, even during a read. */
    default List<SensorFact> takeFacts() {
        return List.of();
    }

    /**
     * Whether a sleeping device may be woken by being asked. Not before this says so. Never blocks; from any thread.
     *
     * @param allowed true while a load on the device is due
     */
    default void allowWaking(boolean allowed) {
        // Most devices do not sleep, or are not woken by being asked.
    }

    @Override
    void close();
}

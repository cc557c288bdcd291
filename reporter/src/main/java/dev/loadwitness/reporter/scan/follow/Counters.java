// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.follow;

import dev.loadwitness.runlog.ChannelKind;
import dev.loadwitness.runlog.ChannelTable;
import org.jspecify.annotations.Nullable;

/** How much every counter of the table grew since it was last read. */
public final class Counters {
    private int[] places = {};
    private boolean[] counts = {};
    private double[] increases = {};
    /** As last read, so that nothing between two readings is lost; null before the first sample of a table. */
    private double @Nullable [] before;

    public void table(ChannelTable table) {
        places = table.places(c -> c.metric().kind() == ChannelKind.COUNTER);
        counts = new boolean[table.channels().size()];
        for (int place : places) {
            counts[place] = true;
        }
        increases = new double[counts.length];
        before = null;
    }

    public void read(double[] values) {
        for (int place : places) {
            increases[place] = before == null ? 0 : increase(before[place], values[place]);
        }
    }

    /** Growth of a counter; a decrease is a reset, after which it counts from zero. */
    private static double increase(double before, double now) {
        if (Double.isNaN(before) || Double.isNaN(now)) {
            return 0;
        }
        return now >= before ? now - before : now;
    }

    public boolean counts(int place) {
        return counts[place];
    }

    /** 0 for what is no counter. */
    public double increase(int place) {
        return increases[place];
    }

    /** Whether a counter reads less than before. */
    public boolean restarted(int place, double value) {
        return counts[place] && before != null && value < before[place];
    }

    /** The next growth is from here; of a counter that was not read, from where it was. */
    public void keep(double[] values) {
        if (before == null) {
            before = values.clone();
            return;
        }
        for (int place : places) {
            if (!Double.isNaN(values[place])) {
                before[place] = values[place];
            }
        }
    }
}

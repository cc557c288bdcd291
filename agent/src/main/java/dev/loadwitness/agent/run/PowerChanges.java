// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Metric;
import java.util.Arrays;
import java.util.List;
import java.util.Map;
import java.util.Optional;

/** Finds in the samples what changed of the power limits and of the adapter, and writes it. */
final class PowerChanges {
    /** A limit that moves by less is rounding. */
    private static final double LIMIT_CHANGE = 0.01;

    private final List<Channel> sensors;
    private final Records records;
    private final double[] lastLimit;
    private Optional<Boolean> onMains = Optional.empty();

    PowerChanges(List<Channel> sensors, Records records) {
        this.sensors = sensors;
        this.records = records;
        this.lastLimit = new double[sensors.size()];
        Arrays.fill(lastLimit, Double.NaN);
    }

    /** Whether an adapter feeds the machine, as last told; empty if none ever did. */
    Optional<Boolean> onMains() {
        return onMains;
    }

    void look(double[] values) {
        limits(values);
        adapter(values);
    }

    private void limits(double[] values) {
        for (int i = 0; i < lastLimit.length; i++) {
            if (!sensors.get(i).measures(Metric.POWER_LIMIT) || Double.isNaN(values[i])) {
                continue;
            }
            if (Math.abs(values[i] - lastLimit[i]) > LIMIT_CHANGE * lastLimit[i]) {
                records.event(
                        EventKind.LIMIT_CHANGED, "channel", sensors.get(i).id(), "from", lastLimit[i], "to", values[i]);
            }
            lastLimit[i] = values[i];
        }
    }

    private void adapter(double[] values) {
        Optional<Boolean> now = Guard.mains(sensors, values);
        if (now.isPresent() && onMains.isPresent() && !now.equals(onMains)) {
            records.event(now.get() ? EventKind.ADAPTER_ON : EventKind.ADAPTER_OFF, Map.of());
        }
        onMains = now.isPresent() ? now : onMains;
    }
}

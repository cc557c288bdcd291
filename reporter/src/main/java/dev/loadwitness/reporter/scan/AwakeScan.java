// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.util.EnumMap;
import java.util.List;
import java.util.Map;
import java.util.stream.IntStream;

/** Follows what the kernel says of each part's sleep. */
final class AwakeScan {
    private final Map<Role, One> parts = new EnumMap<>(Role.class);
    private List<Channel> table = List.of();
    private int[] places = {};

    private static final class One {
        private long readings;
        private long unread;
        private At firstAwake;
    }

    void table(List<Channel> now) {
        table = now;
        places = IntStream.range(0, now.size())
                .filter(i -> now.get(i).measures(Metric.DEVICE_AWAKE))
                .toArray();
    }

    void add(At at, double[] values) {
        for (int place : places) {
            One part = parts.computeIfAbsent(table.get(place).role(), role -> new One());
            if (Double.isNaN(values[place])) {
                part.unread++;
                continue;
            }
            part.readings++;
            if (values[place] != 0 && part.firstAwake == null) {
                part.firstAwake = at;
            }
        }
    }

    List<AwakeTally> finish() {
        return parts.entrySet().stream()
                .map(e ->
                        new AwakeTally(e.getKey(), e.getValue().readings, e.getValue().unread, e.getValue().firstAwake))
                .toList();
    }
}

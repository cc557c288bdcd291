// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor;

import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.util.List;
import java.util.stream.Stream;

/**
 * What can be measured on this machine, and what cannot.
 *
 * @param sources in the order in which their channels stand in the log; the caller closes them, or gives them to a
 *     {@link SensorBank} that does
 */
public record Discovery(List<Source> sources, List<Missing> missing) {
    public Discovery {
        sources = List.copyOf(sources);
        missing = List.copyOf(missing);
    }

    public List<Channel> channels() {
        return sources.stream().flatMap(s -> s.channels().stream()).toList();
    }

    public boolean offers(Role role, Metric metric) {
        return channels().stream().anyMatch(c -> c.is(role, metric));
    }

    /** This and {@code other}, whose channel ids must differ from these. */
    public Discovery and(Discovery other) {
        return new Discovery(
                Stream.concat(sources.stream(), other.sources.stream()).toList(),
                Stream.concat(missing.stream(), other.missing.stream()).toList());
    }
}

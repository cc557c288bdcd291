// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.heat;

import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.util.List;
import java.util.Optional;
import java.util.Set;
import java.util.stream.Stream;

/**
 * What made and moved heat during one stage, in bins of equal length from its begin on: the chip's temperature
 * of each part, the power of each part, the speed of each fan.
 *
 * @param binSeconds length of each bin
 * @param bins how many there are; every line has as many
 */
public record ThermalTally(double binSeconds, int bins, List<Line> lines) {
    public ThermalTally {
        lines = List.copyOf(lines);
    }

    /**
     * One channel.
     *
     * @param means by bin: degrees Celsius, watts (also of a counter of energy), or the fan's own unit; NaN for a bin without
     *     readings
     */
    @SuppressWarnings("ArrayRecordComponent") // thousands of numbers, made for fitting
    public record Line(Channel channel, double[] means) {
        boolean isFan() {
            return isFan(channel);
        }

        static boolean isFan(Channel channel) {
            String metric = channel.metric().name();
            return metric.equals(Metric.FAN_SPEED.name()) || metric.equals(Metric.FAN_SPEED_RATIO.name());
        }
    }

    public ThermalTally without(Set<String> channelIds) {
        return new ThermalTally(
                binSeconds,
                bins,
                lines.stream()
                        .filter(l -> !channelIds.contains(l.channel().id()))
                        .toList());
    }

    /** Temperature of the part's chip. */
    public Optional<Line> temperature(Role part) {
        return lines.stream()
                .filter(l -> l.channel().is(part, Metric.TEMPERATURE))
                .findFirst();
    }

    /** Power of the part: by its counter of energy if it has one. */
    public Optional<Line> power(Role part) {
        return lines.stream()
                .filter(l -> l.channel().is(part, Metric.ENERGY) || l.channel().is(part, Metric.POWER))
                .findFirst();
    }

    public Stream<Line> fans() {
        return lines.stream().filter(Line::isFan);
    }
}

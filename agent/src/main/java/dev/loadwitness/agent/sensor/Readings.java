// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor;

import java.util.List;

/**
 * What all sources said at one moment.
 *
 * @param values in the order of {@link SensorBank#channels()}; NaN where there was no answer. A new array each time,
 *     handed over and not copied
 * @param facts what sources saw, and which fell silent or came back, since the last reading; nearly always empty
 */
@SuppressWarnings("ArrayRecordComponent") // becomes the array of a Sample, which is handed over in the same way
public record Readings(double[] values, List<SensorFact> facts) {
    public Readings {
        facts = List.copyOf(facts);
    }
}

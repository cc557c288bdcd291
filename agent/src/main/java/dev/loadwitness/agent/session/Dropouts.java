// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.session;

import dev.loadwitness.agent.run.Run;
import dev.loadwitness.agent.sensor.DropoutSource;
import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import java.util.ArrayList;
import java.util.List;

/**
 * Chooses the source that will be made to hang on purpose before each soak: one with a temperature if there is one, any
 * other if there is not, a stand-in on a machine without sensors.
 *
 * @param sources all sources, the chosen one wrapped
 */
record Dropouts(List<Source> sources, Run.Dropout dropout) {
    static Dropouts of(List<Source> found) {
        if (found.isEmpty()) {
            DropoutSource standIn = new DropoutSource(new StandIn());
            return new Dropouts(List.of(standIn), new Run.Dropout(standIn, true));
        }
        Source chosen = found.stream()
                .filter(s -> s.channels().stream().anyMatch(Dropouts::isTemperature))
                .findFirst()
                .orElse(found.get(0));
        DropoutSource wrapped = new DropoutSource(chosen);
        List<Source> sources = new ArrayList<>(found);
        sources.set(found.indexOf(chosen), wrapped);
        return new Dropouts(List.copyOf(sources), new Run.Dropout(wrapped, false));
    }

    private static boolean isTemperature(Channel channel) {
        return channel.measures(Metric.TEMPERATURE);
    }

    /** Answers at once and measures nothing. */
    private static final class StandIn implements Source {
        @Override
        public String name() {
            return "stand-in";
        }

        @Override
        public List<Channel> channels() {
            return List.of();
        }

        @Override
        public void read(double[] into, int from) {
            // There is nothing to read.
        }

        @Override
        public void close() {
            // There is nothing to close.
        }
    }
}

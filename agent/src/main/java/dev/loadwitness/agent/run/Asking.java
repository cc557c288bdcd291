// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import static dev.loadwitness.runlog.procedure.Parameters.RepeatSoak.COLD_BELOW;

import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Ask;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.Stage;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;

/** What one stage asks of a person, from the asking until it has been seen to be done. */
final class Asking {
    /** With less charge a pulled plug may switch the machine off before it is back (ours). */
    private static final double LEAST_CHARGE = 0.1;

    private final Ask ask;
    private final List<Channel> channels;
    private final List<Integer> mustCool = new ArrayList<>();
    private final double coldBelowCelsius;
    private final long sinceNanos;
    private boolean adapterWasOff;
    private boolean done;

    Asking(Stage stage, Procedure procedure, List<Channel> channels, long nowNanos) {
        this.ask = stage.asks().orElseThrow();
        this.channels = channels;
        this.sinceNanos = nowNanos;
        Role part = stage.proves().orElseThrow();
        for (int i = 0; i < channels.size(); i++) {
            if (channels.get(i).is(part, Metric.TEMPERATURE) && channels.get(i).isOfTheChip(channels)) {
                mustCool.add(i);
            }
        }
        this.coldBelowCelsius =
                procedure.settingOrDefaults(Criterion.REPEAT_SOAK).celsius(COLD_BELOW);
    }

    Ask ask() {
        return ask;
    }

    /**
     * Why it must not be asked for, or could not be seen; empty if it can.
     *
     * @param values of the last sample; empty before the first
     * @param bootTimeSeconds NaN where nothing tells of sleep
     */
    Optional<String> impossible(double[] values, Optional<Boolean> onMains, double bootTimeSeconds) {
        return switch (ask) {
            case POWER_OFF -> Optional.empty();
            case SLEEP ->
                Double.isNaN(bootTimeSeconds)
                        ? Optional.of("no clock here tells how long the machine slept")
                        : Optional.empty();
            case REPLUG -> {
                if (onMains.isEmpty()) {
                    yield Optional.of("nothing tells whether an adapter is plugged in");
                }
                yield charge(values) >= LEAST_CHARGE
                        ? Optional.empty()
                        : Optional.of(
                                "no battery with at least 10 % charge is seen: to pull the plug would cut the power");
            }
            case COOL_DOWN ->
                mustCool.isEmpty() ? Optional.of("the part has no temperature that can be read") : Optional.empty();
        };
    }

    private double charge(double[] values) {
        double most = Double.NEGATIVE_INFINITY;
        for (int i = 0; i < Math.min(values.length, channels.size()); i++) {
            if (channels.get(i).is(Role.BATTERY, Metric.BATTERY_CHARGE) && !Double.isNaN(values[i])) {
                most = Math.max(most, values[i]);
            }
        }
        return most;
    }

    /** The machine slept. */
    void slept() {
        done |= ask == Ask.SLEEP;
    }

    /** One sample. */
    void look(double[] values, Optional<Boolean> onMains) {
        if (ask == Ask.REPLUG && onMains.isPresent()) {
            done |= adapterWasOff && onMains.get();
            adapterWasOff |= !onMains.get();
        }
        if (ask == Ask.COOL_DOWN) {
            boolean allCold = true;
            for (int i : mustCool) {
                allCold &= values[i] < coldBelowCelsius; // no answer is not cold
            }
            done |= allCold;
        }
    }

    boolean isDone() {
        return done;
    }

    /** Whether the plug is out and only has to be put back. */
    boolean isHalfDone() {
        return adapterWasOff && !done;
    }

    double seconds(long nowNanos) {
        return (nowNanos - sinceNanos) / 1e9;
    }

    /** Until then it is waited for. */
    long untilNanos() {
        return sinceNanos + ask.patience().toNanos();
    }

    String missed() {
        return "nobody did what it asks for (" + ask.word() + ") within "
                + ask.patience().toMinutes() + " min";
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import dev.loadwitness.agent.sensor.Readings;
import dev.loadwitness.agent.sensor.SensorBank;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Procedure;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;
import java.util.Optional;
import java.util.function.LongSupplier;
import org.jspecify.annotations.Nullable;

/** Takes the samples when they are due, and writes what they show. */
final class Sampling {
    private final SensorBank bank;
    private final RunClock clock;
    private final long periodNanos;
    private final List<Channel> channels;
    private final Loads loads;
    private final WitnessCheck witnessCheck;
    private final Records records;
    private final Watch watch;
    private final PowerChanges powerChanges;
    private double[] last = {};
    private long nextNanos;

    Sampling(
            Procedure procedure,
            SensorBank bank,
            RunClock clock,
            LongSupplier heartbeatGapNanos,
            Loads loads,
            WitnessCheck witnessCheck,
            Records records) {
        this.bank = bank;
        this.clock = clock;
        this.periodNanos = procedure.samplingPeriod().toNanos();
        this.channels = channels(bank.channels(), loads.roles());
        this.loads = loads;
        this.witnessCheck = witnessCheck;
        this.records = records;
        this.watch = new Watch(clock, heartbeatGapNanos);
        this.powerChanges = new PowerChanges(bank.channels(), records);
    }

    private static List<Channel> channels(List<Channel> sensors, List<Role> loaded) {
        List<Channel> all = new ArrayList<>(sensors);
        for (Role role : loaded) {
            all.add(Channel.of(role.word() + ".work.verified", Metric.WORK_VERIFIED, role, "load"));
            all.add(Channel.of(role.word() + ".work.errors", Metric.WORK_ERRORS, role, "load"));
        }
        all.add(Channel.of("witness.lateness", Metric.SAMPLE_LATENESS, Role.WITNESS, "agent"));
        return List.copyOf(all);
    }

    /** The first is due now. */
    void begin() {
        nextNanos = clock.nanos();
    }

    long nextNanos() {
        return nextNanos;
    }

    List<Channel> channels() {
        return channels;
    }

    /** Values of the last sample, in the order of the channels; empty before the first. */
    double[] last() {
        return last;
    }

    /** Whether an adapter feeds the machine, as last told; empty if none ever did. */
    Optional<Boolean> onMains() {
        return powerChanges.onMains();
    }

    /** Takes one; {@code asking} is null while nobody is asked for anything. */
    void take(long now, @Nullable Asking asking) throws InterruptedException {
        double lateSeconds = (now - nextNanos) / 1e9;
        Readings reading = bank.take(now);
        double[] values = Arrays.copyOf(reading.values(), channels.size());
        int next = bank.channels().size();
        for (Role role : loads.roles()) {
            values[next++] = loads.verified(role);
            values[next++] = loads.errors(role);
        }
        values[next] = lateSeconds;
        records.sample(now, values);
        last = values;
        // Samples that were missed are missed: a burst of catch-up reads would show in the readings.
        nextNanos += periodNanos * Math.max(1, 1 + (now - nextNanos) / periodNanos);

        reading.facts().forEach(witnessCheck::sensorFact);
        double allVerified = loads.roles().stream().mapToDouble(loads::verified).sum();
        watch.look(lateSeconds, allVerified).forEach(seen -> {
            records.event(seen.kind(), seen.facts());
            if (asking != null && seen.kind() == EventKind.SUSPENDED) {
                asking.slept();
            }
        });
        powerChanges.look(values);
        if (asking != null) {
            asking.look(values, powerChanges.onMains());
        }
        loads.power(bank.channels(), values);
    }
}

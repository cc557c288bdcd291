// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.LoadKind;
import dev.loadwitness.runlog.procedure.Stage;
import java.util.ArrayList;
import java.util.EnumMap;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;

/** A stage that is running while the log is read. */
final class StageScan {
    final Stage stage;
    final At begin;
    final WindowTrack track = new WindowTrack();
    final List<ThrottleTally> throttles = new ArrayList<>();
    final Map<Role, PowerScan> powers = new EnumMap<>(Role.class);
    final Map<String, TemperatureTrack> temperatures = new LinkedHashMap<>();
    final ThermalScan thermal;
    final StepScan steps;
    final StageTally.WitnessChecks checks;
    ClockTally clock;
    double verifiedWork;
    double workErrors = Double.NaN;
    boolean powerReadable;

    StageScan(
            Stage stage,
            At begin,
            StageTally.WitnessChecks checks,
            StepScan.Tolerance tolerance,
            double periodSeconds,
            Room room) {
        this.stage = stage;
        this.begin = begin;
        this.checks = checks;
        this.steps = new StepScan(tolerance);
        this.thermal = new ThermalScan(begin, periodSeconds, room);
    }

    /** The part that the stage proves, else the GPU that it loads. */
    Optional<Role> part() {
        return stage.proves().or(stage::gpu);
    }

    /** Whether the channel belongs to the part that the stage proves. */
    boolean tracks(Channel channel) {
        return stage.proves().filter(part -> part == channel.role()).isPresent();
    }

    boolean goesOnAndOff() {
        return stage.loads().contains(LoadKind.GPU_STEPS);
    }

    /** Whether it proves a part by a load that neither comes and goes nor rises in steps. */
    boolean steadyLoad() {
        return stage.proves().isPresent() && !goesOnAndOff() && !stage.loads().contains(LoadKind.GPU_RAMP);
    }

    /** Something was switched on command. */
    void edge(double atSeconds) {
        throttles.forEach(t -> t.edge(atSeconds));
        if (clock != null) {
            clock.edge(atSeconds);
        }
    }

    StageTally finish(At end, String why) {
        track.finish();
        throttles.forEach(t -> t.finish(end));
        if (clock != null) {
            clock.finish(end);
        }
        return new StageTally(
                stage,
                begin,
                end,
                why,
                track.windows(),
                throttles,
                Optional.ofNullable(clock),
                powers.values().stream().map(PowerScan::finish).toList(),
                temperatures.values().stream().map(TemperatureTrack::finish).toList(),
                thermal.finish(),
                steps.finish(),
                verifiedWork,
                workErrors,
                powerReadable,
                checks);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.stage;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.heat.ThermalTally;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.LoadKind;
import dev.loadwitness.runlog.procedure.Stage;
import java.util.List;
import java.util.Optional;
import java.util.Set;

/**
 * A stage as it ran, and what its part showed meanwhile: the part that it proves, else the GPU that it loads.
 *
 * @param end when it ended; the last sample if the log breaks off
 * @param why {@code completed}, {@code stopped}, or {@code interrupted} if the log breaks off
 * @param track of the stage's part; empty for stages without one
 * @param throttles channels of the stage's part
 * @param clock graphics clock of a GPU under full load; empty for other stages
 * @param powers one for each part that tells its power or energy, whether the stage loads it or not
 * @param temperatures of the chip of the part that the stage proves; empty for stages that prove none
 * @param thermal temperatures, power and fans through the stage
 * @param verifiedWork units found right during the stage
 * @param workErrors units found wrong during the stage; NaN if nothing counted them
 * @param powerReadable true if the part's power or energy answered
 */
public record StageTally(
        Stage stage,
        At begin,
        At end,
        String why,
        List<WindowTrack.Window> track,
        List<ThrottleTally> throttles,
        Optional<ClockTally> clock,
        List<PowerTally> powers,
        List<StageTemperature> temperatures,
        ThermalTally thermal,
        StepTally steps,
        double verifiedWork,
        double workErrors,
        boolean powerReadable,
        WitnessChecks checks) {
    public StageTally {
        track = List.copyOf(track);
        throttles = List.copyOf(throttles);
        powers = List.copyOf(powers);
        temperatures = List.copyOf(temperatures);
    }

    /** The same, without temperatures and power of channels that cannot be believed. */
    public StageTally without(Set<String> channelIds) {
        return channelIds.isEmpty()
                ? this
                : new StageTally(
                        stage,
                        begin,
                        end,
                        why,
                        track,
                        throttles,
                        clock,
                        powers,
                        temperatures.stream()
                                .filter(t -> !channelIds.contains(t.channel().id()))
                                .toList(),
                        thermal.without(channelIds),
                        steps,
                        verifiedWork,
                        workErrors,
                        powerReadable,
                        checks);
    }

    /** About as much as it keeps, beside the courses of temperatures and heat, which are counted as they grow. */
    public long bytes() {
        return 40_000L
                + 130L * track.size()
                + 10_000L * throttles.size()
                + 100L * (steps.levels().size() + steps.rates().size());
    }

    /** The part that the stage proves, else the GPU that it loads. */
    public Optional<Role> part() {
        return stage.proves().or(stage::gpu);
    }

    /** Whether its loads are the full load of the part, rather than of one rail of it, or one that comes and goes. */
    public boolean fullLoad() {
        return stage.loads().stream().filter(LoadKind::needsGpu).allMatch(LoadKind::isFull);
    }

    public boolean completed() {
        return why.equals("completed");
    }

    /** Mean power of one part in watts; NaN if it was not read. */
    public double meanWatts(Role role) {
        return powers.stream()
                .filter(p -> p.role() == role)
                .mapToDouble(PowerTally::meanWatts)
                .findFirst()
                .orElse(Double.NaN);
    }

    public double seconds() {
        return end.seconds() - begin.seconds();
    }

    /** How often the witness proved before this stage that it can see; a check that failed is in {@code missed}. */
    public record WitnessChecks(int caught, int missed) {}
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.Word;
import java.util.List;
import java.util.Optional;

/**
 * Every pass/fail rule there is: its name, what it can be given, and what it needs to be judged at all. The reporter
 * computes; a contract test in the reporter matches the two.
 */
public enum Criterion implements Word {
    SOAK_DURATION(
            190,
            CustomerQuestion.LOADED,
            "longest uninterrupted stretch under the demanded load",
            List.of(Parameters.SoakDuration.AT_LEAST, Parameters.SoakDuration.POWER_SHARE),
            List.of(Need.ofProvedPart(Metric.WORK_VERIFIED))),
    LIMIT_WITHDRAWN(
            80,
            CustomerQuestion.LOADED,
            "the power limit never falls while on mains",
            List.of(Parameters.LimitWithdrawn.TOLERANCE),
            List.of(
                    Need.ofProvedPart(Metric.POWER_LIMIT),
                    new Need(Optional.of(Role.ADAPTER), List.of(Metric.ADAPTER_ONLINE)))),
    INTERRUPTIONS(
            10, CustomerQuestion.STAY_ON, "nothing ended the run or a stage before its time", List.of(), List.of()),
    ISOLATION(
            250,
            CustomerQuestion.FREE,
            "what goes wrong follows the discrete GPU, or does not: each GPU loaded by itself is clean",
            List.of(),
            List.of(
                    new Need(Optional.of(Role.GPU_INTEGRATED), List.of(Metric.WORK_VERIFIED)),
                    new Need(Optional.of(Role.GPU_DISCRETE), List.of(Metric.WORK_VERIFIED)))),
    COLD_STARTS(
            150,
            CustomerQuestion.STAY_ON,
            "switched on cold, woken and plugged in again so many times, and each time the load ran soon after",
            List.of(
                    Parameters.ColdStarts.BOOTS,
                    Parameters.ColdStarts.SLEEPS,
                    Parameters.ColdStarts.REPLUGS,
                    Parameters.ColdStarts.WITHIN),
            List.of(Need.ofProvedPart(Metric.WORK_VERIFIED))),
    TEMPERATURE_CEILING(
            130,
            CustomerQuestion.COOL,
            "hottest minute against the device's own slowdown temperature",
            List.of(
                    Parameters.TemperatureCeiling.MARGIN,
                    Parameters.TemperatureCeiling.BLOCK,
                    Parameters.TemperatureCeiling.CEILING,
                    Parameters.TemperatureCeiling.UNCERTAINTY),
            List.of(Need.ofProvedPart(Metric.TEMPERATURE))),
    REPEAT_SOAK(
            140,
            CustomerQuestion.COOL,
            "a second soak from cold gets no hotter than the first",
            List.of(Parameters.RepeatSoak.AT_MOST, Parameters.RepeatSoak.COLD_BELOW, Parameters.RepeatSoak.SAME_POWER),
            List.of(Need.ofProvedPart(Metric.TEMPERATURE))),
    WARM_ROOM(
            170,
            CustomerQuestion.COOL,
            "where the temperature would come to rest in a warm room, against the device's own slowdown temperature",
            List.of(
                    Parameters.WarmRoom.WARM,
                    Parameters.WarmRoom.MARGIN,
                    Parameters.WarmRoom.CEILING,
                    Parameters.WarmRoom.UNCERTAINTY,
                    Parameters.WarmRoom.AMBIENT_UNCERTAINTY),
            List.of(Need.ofProvedPart(Metric.TEMPERATURE), Need.ofProvedPart(Metric.POWER, Metric.ENERGY))),
    THERMAL_RESISTANCE(
            160,
            CustomerQuestion.COOL,
            "rise of the discrete GPU above the room, per watt, against the band of its model",
            List.of(
                    Parameters.ThermalResistance.AT_LEAST,
                    Parameters.ThermalResistance.AT_MOST,
                    Parameters.ThermalResistance.UNCERTAINTY,
                    Parameters.ThermalResistance.AMBIENT_UNCERTAINTY,
                    Parameters.ThermalResistance.POWER_UNCERTAINTY),
            List.of(
                    new Need(Optional.of(Role.GPU_DISCRETE), List.of(Metric.TEMPERATURE)),
                    new Need(Optional.of(Role.GPU_DISCRETE), List.of(Metric.POWER, Metric.ENERGY)))),
    TEMPERATURE_SETTLED(
            180,
            CustomerQuestion.COOL,
            "the chip's temperature no longer rises at the end of the longest full load",
            List.of(
                    Parameters.TemperatureSettled.RISE,
                    Parameters.TemperatureSettled.WITHIN,
                    Parameters.TemperatureSettled.WINDOW),
            List.of(Need.ofProvedPart(Metric.TEMPERATURE))),
    THROTTLE(
            100,
            CustomerQuestion.FREE,
            "the device does not hold itself back for heat, power brake or an unnamed hardware reason",
            List.of(Parameters.Throttle.AT_MOST, Parameters.Throttle.AT_MOST_TIME, Parameters.Throttle.CLOCK_LOSS),
            List.of(Need.ofProvedPart(Metric.THROTTLE_COUNT, Metric.THROTTLE_TIME, Metric.THROTTLE_ACTIVE))),
    CLOCK_HELD(
            210,
            CustomerQuestion.FREE,
            "verified work rate at the end against that at the settled start",
            List.of(Parameters.ClockHeld.AT_LEAST, Parameters.ClockHeld.WINDOW),
            List.of(Need.ofProvedPart(Metric.WORK_VERIFIED))),
    POWER_HELD(
            200,
            CustomerQuestion.LOADED,
            "median power under full load against the fixed reference",
            List.of(Parameters.PowerHeld.AT_LEAST, Parameters.PowerHeld.UNCERTAINTY),
            List.of(Need.ofProvedPart(Metric.POWER, Metric.ENERGY))),
    POWER_STEADY(
            220,
            CustomerQuestion.LOADED,
            "no ten-second mean of the power stands out from its stage",
            List.of(Parameters.PowerSteady.DEVIATION),
            List.of(Need.ofProvedPart(Metric.POWER, Metric.ENERGY))),
    POWER_PLAUSIBLE(
            230,
            CustomerQuestion.LOADED,
            "the wall meter's readings on the job sheet agree with the power that the machine reports of itself",
            List.of(Parameters.PowerPlausible.EFFICIENCY, Parameters.PowerPlausible.TOLERANCE),
            List.of(
                    Need.ofProvedPart(Metric.POWER, Metric.ENERGY),
                    new Need(Optional.of(Role.CPU), List.of(Metric.POWER, Metric.ENERGY)))),
    ENERGY_AGREES(
            240,
            CustomerQuestion.LOADED,
            "the energy counter against the power readings added up",
            List.of(Parameters.EnergyAgrees.TOLERANCE),
            List.of(Need.ofProvedPart(Metric.ENERGY), Need.ofProvedPart(Metric.POWER))),
    RAMP(
            110,
            CustomerQuestion.FREE,
            "the load follows every level of the ramp, without a power brake or a wrong result",
            List.of(Parameters.Ramp.LATENESS),
            List.of(
                    Need.ofProvedPart(Metric.WORK_ERRORS),
                    Need.ofProvedPart(Metric.THROTTLE_COUNT, Metric.THROTTLE_TIME, Metric.THROTTLE_ACTIVE)),
            LoadKind.GPU_RAMP),
    LOAD_STEPS(
            120,
            CustomerQuestion.FREE,
            "the load follows every step, without a power brake or a wrong result",
            List.of(Parameters.LoadSteps.EDGE_SHARE, Parameters.LoadSteps.EDGE_TIME, Parameters.LoadSteps.LATE_EDGES),
            List.of(
                    Need.ofProvedPart(Metric.WORK_ERRORS),
                    Need.ofProvedPart(Metric.THROTTLE_COUNT, Metric.THROTTLE_TIME, Metric.THROTTLE_ACTIVE)),
            LoadKind.GPU_STEPS),
    COMPUTE_ERRORS(
            60,
            CustomerQuestion.RIGHT,
            "no result of our load is wrong",
            List.of(Parameters.ComputeErrors.AT_MOST),
            List.of(Need.ofProvedPart(Metric.WORK_ERRORS))),
    MEMORY_ERRORS(
            70,
            CustomerQuestion.RIGHT,
            "the march test finds no fault",
            List.of(Parameters.MemoryErrors.AT_MOST),
            List.of(new Need(Optional.of(Role.MEMORY), List.of(Metric.WORK_ERRORS)))),
    HARDWARE_ERRORS(
            20,
            CustomerQuestion.RIGHT,
            "the platform reports no error that it could not correct, and no burst of those that it could",
            List.of(Parameters.HardwareErrors.RISE),
            List.of(Need.ofProvedPart(Metric.HARDWARE_ERRORS, Metric.CORRECTED_ERRORS, Metric.PCIE_REPLAYS))),
    CHARGING(
            90,
            CustomerQuestion.POWERED,
            "the adapter feeds the machine throughout, carries the load of one chip, and the battery charges at idle",
            List.of(Parameters.Charging.DRAIN_PER_HOUR, Parameters.Charging.CHARGE_BELOW, Parameters.Charging.GAINED),
            List.of(
                    new Need(Optional.of(Role.ADAPTER), List.of(Metric.ADAPTER_ONLINE)),
                    new Need(Optional.of(Role.BATTERY), List.of(Metric.BATTERY_CHARGE)))),
    FANS(
            50,
            CustomerQuestion.COOL,
            "no fan that turned stands still while what it cools is hot",
            List.of(Parameters.Fans.HOT, Parameters.Fans.STILL_FOR),
            List.of(new Need(Optional.of(Role.FAN), List.of(Metric.FAN_SPEED)))),
    DEVICES(
            30,
            CustomerQuestion.PARTS,
            "keyboard, storage, wireless and discrete GPU are there throughout; what must be absent is",
            List.of(),
            List.of()),
    RAILS(
            40,
            CustomerQuestion.PARTS,
            "each rail that the job sheet lists is within its limits after the repair",
            List.of(Parameters.Rails.TOLERANCE),
            List.of()),
    HAND_CHECKS(
            270,
            CustomerQuestion.PARTS,
            "each check by hand on the job sheet is made, and none failed",
            List.of(),
            List.of()),
    EVIDENCE(
            260,
            CustomerQuestion.RECORD,
            "the log is whole, closed and without long gaps, and the witness proved that it can see",
            List.of(Parameters.Evidence.COVERAGE, Parameters.Evidence.LONGEST_GAP),
            List.of());

    private final int rank;
    private final CustomerQuestion question;
    private final String summary;
    private final List<Parameter<?>> parameters;
    private final List<Need> needs;
    private final Optional<LoadKind> load;

    Criterion(int rank, CustomerQuestion question, String summary, List<Parameter<?>> parameters, List<Need> needs) {
        this(rank, question, summary, parameters, needs, Optional.empty());
    }

    Criterion(
            int rank,
            CustomerQuestion question,
            String summary,
            List<Parameter<?>> parameters,
            List<Need> needs,
            LoadKind load) {
        this(rank, question, summary, parameters, needs, Optional.of(load));
    }

    Criterion(
            int rank,
            CustomerQuestion question,
            String summary,
            List<Parameter<?>> parameters,
            List<Need> needs,
            Optional<LoadKind> load) {
        this.rank = rank;
        this.question = question;
        this.summary = summary;
        this.parameters = parameters;
        this.needs = needs;
        this.load = load;
    }

    /** Causes have lower ranks than their effects: a withdrawn limit explains a soak that was not held, not the reverse. */
    public int rank() {
        return rank;
    }

    /** What a customer asks, and this criterion helps to answer. */
    public CustomerQuestion question() {
        return question;
    }

    /** One line for people. */
    public String summary() {
        return summary;
    }

    public List<Parameter<?>> parameters() {
        return parameters;
    }

    /** All of these must be there, or the criterion is not measured. */
    public List<Need> needs() {
        return needs;
    }

    /** The load that this criterion is about; empty if it judges whatever ran. */
    public Optional<LoadKind> load() {
        return load;
    }

    /**
     * The parameter of that name.
     *
     * @throws IllegalArgumentException if this criterion has no such parameter
     */
    public Parameter<?> parameter(String name) {
        return parameters.stream()
                .filter(p -> p.name().equals(name))
                .findFirst()
                .orElseThrow(() -> new IllegalArgumentException(word() + " has no parameter '" + name + "'"));
    }
}

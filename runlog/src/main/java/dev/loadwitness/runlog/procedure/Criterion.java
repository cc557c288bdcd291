// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import static dev.loadwitness.runlog.procedure.Parameter.Quantity.COUNT;
import static dev.loadwitness.runlog.procedure.Parameter.Quantity.DURATION;
import static dev.loadwitness.runlog.procedure.Parameter.Quantity.SHARE;
import static dev.loadwitness.runlog.procedure.Parameter.Quantity.TEMPERATURE;
import static dev.loadwitness.runlog.procedure.Parameter.Quantity.TEMPERATURE_DIFFERENCE;

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
            List.of(
                    new Parameter(
                            "at-least", DURATION, 3600, 1, 604_800, "how long the load must be held without a break"),
                    new Parameter(
                            "power-share",
                            SHARE,
                            0.85,
                            0.1,
                            1,
                            "share of the fixed power reference, or of the work rate where no power is readable,"
                                    + " that counts as loaded (common practice, no source)")),
            List.of(Need.ofProvedPart(Metric.WORK_VERIFIED))),
    LIMIT_WITHDRAWN(
            80,
            CustomerQuestion.LOADED,
            "the power limit never falls while on mains",
            List.of(new Parameter(
                    "tolerance",
                    SHARE,
                    0.02,
                    0,
                    0.5,
                    "how far below the reference the limit may read before it counts as withdrawn"
                            + " (common practice, no source)")),
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
                    new Parameter("boots", COUNT, 3, 0, 20, "times switched off and on (common practice, no source)"),
                    new Parameter(
                            "sleeps", COUNT, 3, 0, 20, "times put to sleep and woken (common practice, no source)"),
                    new Parameter(
                            "replugs",
                            COUNT,
                            3,
                            0,
                            20,
                            "times the adapter was pulled and put back without a load (common practice, no source)"),
                    new Parameter(
                            "within",
                            DURATION,
                            120,
                            10,
                            3600,
                            "how soon after it the load must do verified work (common practice, no source)")),
            List.of(Need.ofProvedPart(Metric.WORK_VERIFIED))),
    TEMPERATURE_CEILING(
            130,
            CustomerQuestion.COOL,
            "hottest minute against the device's own slowdown temperature",
            List.of(
                    new Parameter(
                            "margin",
                            TEMPERATURE_DIFFERENCE,
                            5,
                            0,
                            50,
                            "how far below the device's own slowdown temperature it must stay"
                                    + " (common practice, no source)"),
                    new Parameter("block", DURATION, 60, 1, 3600, "length of the means that are judged"),
                    new Parameter(
                            "ceiling",
                            TEMPERATURE,
                            90,
                            30,
                            125,
                            "limit where the device states none (common practice, no source)"),
                    new Parameter(
                            "uncertainty",
                            TEMPERATURE_DIFFERENCE,
                            2,
                            0,
                            20,
                            "standard uncertainty of the sensor's calibration, used against limits that are not the"
                                    + " device's own (common practice, no source)")),
            List.of(Need.ofProvedPart(Metric.TEMPERATURE))),
    REPEAT_SOAK(
            140,
            CustomerQuestion.COOL,
            "a second soak from cold gets no hotter than the first",
            List.of(
                    new Parameter(
                            "at-most",
                            TEMPERATURE_DIFFERENCE,
                            3,
                            0.5,
                            20,
                            "how much hotter the end of the second soak may be (common practice, no source)"),
                    new Parameter(
                            "cold-below",
                            TEMPERATURE,
                            45,
                            20,
                            70,
                            "below which the part counts as cold; the agent waits for it"
                                    + " (common practice, no source)"),
                    new Parameter(
                            "same-power",
                            SHARE,
                            0.05,
                            0.01,
                            0.2,
                            "how far the powers of both soaks may differ and still be compared"
                                    + " (common practice, no source)")),
            List.of(Need.ofProvedPart(Metric.TEMPERATURE))),
    WARM_ROOM(
            170,
            CustomerQuestion.COOL,
            "where the temperature would come to rest in a warm room, against the device's own slowdown temperature",
            List.of(
                    new Parameter(
                            "warm", TEMPERATURE, 35, 0, 60, "the warm room's temperature (common practice, no source)"),
                    new Parameter(
                            "margin",
                            TEMPERATURE_DIFFERENCE,
                            5,
                            0,
                            50,
                            "how far below the device's own slowdown temperature it must stay"
                                    + " (common practice, no source)"),
                    new Parameter(
                            "ceiling",
                            TEMPERATURE,
                            90,
                            30,
                            125,
                            "limit where the device states none (common practice, no source)"),
                    new Parameter(
                            "uncertainty",
                            TEMPERATURE_DIFFERENCE,
                            2,
                            0,
                            20,
                            "standard uncertainty of the sensor's calibration, used against limits that are not the"
                                    + " device's own (common practice, no source)"),
                    new Parameter(
                            "ambient-uncertainty",
                            TEMPERATURE_DIFFERENCE,
                            1,
                            0.1,
                            10,
                            "standard uncertainty of the ambient temperature (common practice, no source)")),
            List.of(Need.ofProvedPart(Metric.TEMPERATURE), Need.ofProvedPart(Metric.POWER, Metric.ENERGY))),
    THERMAL_RESISTANCE(
            160,
            CustomerQuestion.COOL,
            "rise of the discrete GPU above the room, per watt, against the band of its model",
            List.of(
                    new Parameter(
                            "at-least",
                            Parameter.Quantity.THERMAL_RESISTANCE,
                            0,
                            0,
                            20,
                            "lower end of the model's band; none is known of itself"),
                    new Parameter(
                            "at-most",
                            Parameter.Quantity.THERMAL_RESISTANCE,
                            20,
                            0.01,
                            20,
                            "upper end of the model's band; none is known of itself, and with both ends open nothing is judged"),
                    new Parameter(
                            "uncertainty",
                            TEMPERATURE_DIFFERENCE,
                            2,
                            0,
                            20,
                            "standard uncertainty of the sensor's calibration (common practice, no source)"),
                    new Parameter(
                            "ambient-uncertainty",
                            TEMPERATURE_DIFFERENCE,
                            1,
                            0.1,
                            10,
                            "standard uncertainty of the ambient temperature (common practice, no source)"),
                    new Parameter(
                            "power-uncertainty",
                            SHARE,
                            0.025,
                            0,
                            0.3,
                            "standard uncertainty of the reported power, where its source states none"
                                    + " (common practice, no source)")),
            List.of(
                    new Need(Optional.of(Role.GPU_DISCRETE), List.of(Metric.TEMPERATURE)),
                    new Need(Optional.of(Role.GPU_DISCRETE), List.of(Metric.POWER, Metric.ENERGY)))),
    TEMPERATURE_SETTLED(
            180,
            CustomerQuestion.COOL,
            "the chip's temperature no longer rises at the end of the longest full load",
            List.of(
                    new Parameter(
                            "rise",
                            TEMPERATURE_DIFFERENCE,
                            1,
                            0.1,
                            50,
                            "how much it may still rise, by the upper 95 % bound of its slope and one least digit of the"
                                    + " sensor (common practice, no source)"),
                    new Parameter(
                            "within",
                            DURATION,
                            600,
                            10,
                            86_400,
                            "time within which it may (common practice, no source)"),
                    new Parameter(
                            "window",
                            DURATION,
                            1200,
                            60,
                            86_400,
                            "length of the last part of the load that is judged")),
            List.of(Need.ofProvedPart(Metric.TEMPERATURE))),
    THROTTLE(
            100,
            CustomerQuestion.FREE,
            "the device does not hold itself back for heat, power brake or an unnamed hardware reason",
            List.of(
                    new Parameter("at-most", COUNT, 0, 0, 1e6, "episodes that are let pass"),
                    new Parameter("at-most-time", DURATION, 0, 0, 604_800, "time in such episodes that is let pass"),
                    new Parameter(
                            "clock-loss",
                            SHARE,
                            0.2,
                            0.05,
                            0.9,
                            "how far the graphics clock may fall below what it held in the stage while nothing explains"
                                    + " it (common practice, no source)")),
            List.of(Need.ofProvedPart(Metric.THROTTLE_COUNT, Metric.THROTTLE_TIME, Metric.THROTTLE_ACTIVE))),
    CLOCK_HELD(
            210,
            CustomerQuestion.FREE,
            "verified work rate at the end against that at the settled start",
            List.of(
                    new Parameter(
                            "at-least",
                            SHARE,
                            0.95,
                            0.1,
                            1,
                            "share of the first rate held last (common practice, no source)"),
                    new Parameter("window", DURATION, 600, 1, 86_400, "length of the first and the last window")),
            List.of(Need.ofProvedPart(Metric.WORK_VERIFIED))),
    POWER_HELD(
            200,
            CustomerQuestion.LOADED,
            "median power under full load against the fixed reference",
            List.of(
                    new Parameter(
                            "at-least",
                            SHARE,
                            0.85,
                            0.1,
                            1,
                            "share of the fixed power reference that the median must reach (common practice, no source)"),
                    new Parameter(
                            "uncertainty",
                            SHARE,
                            0.02,
                            0,
                            0.2,
                            "standard uncertainty of the power sensor's calibration, as a share of its reading, used against a"
                                    + " rating that is not the device's own (common practice, no source)")),
            List.of(Need.ofProvedPart(Metric.POWER, Metric.ENERGY))),
    POWER_STEADY(
            220,
            CustomerQuestion.LOADED,
            "no ten-second mean of the power stands out from its stage",
            List.of(new Parameter(
                    "deviation",
                    SHARE,
                    0.05,
                    0.01,
                    0.5,
                    "deviation from the stage's median below which a mean never stands out, however quiet the others are"
                            + " (common practice, no source)")),
            List.of(Need.ofProvedPart(Metric.POWER, Metric.ENERGY))),
    POWER_PLAUSIBLE(
            230,
            CustomerQuestion.LOADED,
            "the wall meter's readings on the job sheet agree with the power that the machine reports of itself",
            List.of(
                    new Parameter(
                            "efficiency",
                            SHARE,
                            0.85,
                            0.5,
                            1,
                            "share of the power from the wall that reaches the chips (common practice, no source)"),
                    new Parameter(
                            "tolerance",
                            SHARE,
                            0.2,
                            0.05,
                            0.5,
                            "how far the two may differ, as a share of what the machine reports"
                                    + " (common practice, no source)")),
            List.of(
                    Need.ofProvedPart(Metric.POWER, Metric.ENERGY),
                    new Need(Optional.of(Role.CPU), List.of(Metric.POWER, Metric.ENERGY)))),
    ENERGY_AGREES(
            240,
            CustomerQuestion.LOADED,
            "the energy counter against the power readings added up",
            List.of(new Parameter(
                    "tolerance", SHARE, 0.02, 0.001, 0.2, "how far the two may differ (common practice, no source)")),
            List.of(Need.ofProvedPart(Metric.ENERGY), Need.ofProvedPart(Metric.POWER))),
    RAMP(
            110,
            CustomerQuestion.FREE,
            "the load follows every level of the ramp, without a power brake or a wrong result",
            List.of(new Parameter(
                    "lateness",
                    DURATION,
                    2,
                    0.1,
                    60,
                    "how late the load may follow a level (common practice, no source)")),
            List.of(
                    Need.ofProvedPart(Metric.WORK_ERRORS),
                    Need.ofProvedPart(Metric.THROTTLE_COUNT, Metric.THROTTLE_TIME, Metric.THROTTLE_ACTIVE)),
            LoadKind.GPU_RAMP),
    LOAD_STEPS(
            120,
            CustomerQuestion.FREE,
            "the load follows every step, without a power brake or a wrong result",
            List.of(
                    new Parameter(
                            "edge-share",
                            SHARE,
                            0.1,
                            0.01,
                            0.5,
                            "share of its period by which an edge may miss its moment (common practice, no source)"),
                    new Parameter(
                            "edge-time",
                            DURATION,
                            0.005,
                            0,
                            10,
                            "time by which an edge may miss its moment, where that is more (common practice, no source)"),
                    new Parameter(
                            "late-edges",
                            SHARE,
                            0.01,
                            0,
                            0.5,
                            "share of the edges that may be missing or miss their moment by more"
                                    + " (common practice, no source)")),
            List.of(
                    Need.ofProvedPart(Metric.WORK_ERRORS),
                    Need.ofProvedPart(Metric.THROTTLE_COUNT, Metric.THROTTLE_TIME, Metric.THROTTLE_ACTIVE)),
            LoadKind.GPU_STEPS),
    COMPUTE_ERRORS(
            60,
            CustomerQuestion.RIGHT,
            "no result of our load is wrong",
            List.of(new Parameter("at-most", COUNT, 0, 0, 1e6, "wrong results that are let pass")),
            List.of(Need.ofProvedPart(Metric.WORK_ERRORS))),
    MEMORY_ERRORS(
            70,
            CustomerQuestion.RIGHT,
            "the march test finds no fault",
            List.of(new Parameter("at-most", COUNT, 0, 0, 1e6, "faults that are let pass")),
            List.of(new Need(Optional.of(Role.MEMORY), List.of(Metric.WORK_ERRORS)))),
    HARDWARE_ERRORS(
            20,
            CustomerQuestion.RIGHT,
            "the platform reports no error that it could not correct, and no burst of those that it could",
            List.of(new Parameter(
                    "rise",
                    COUNT,
                    10,
                    2,
                    1000,
                    "how many times the idle rate of corrected errors the rate under load may be"
                            + " (common practice, no source)")),
            List.of(Need.ofProvedPart(Metric.HARDWARE_ERRORS, Metric.CORRECTED_ERRORS, Metric.PCIE_REPLAYS))),
    CHARGING(
            90,
            CustomerQuestion.POWERED,
            "the adapter feeds the machine throughout, carries the load of one chip, and the battery charges at idle",
            List.of(
                    new Parameter(
                            "drain-per-hour",
                            SHARE,
                            0.05,
                            0,
                            0.5,
                            "points of charge an hour that may be lost while one chip is loaded"
                                    + " (common practice, no source)"),
                    new Parameter(
                            "charge-below",
                            SHARE,
                            0.8,
                            0.05,
                            1,
                            "charge below which a battery is due to charge, where the firmware does not say"
                                    + " (common practice, no source)"),
                    new Parameter(
                            "gained",
                            SHARE,
                            0,
                            0,
                            0.5,
                            "points of charge that the stages without load must add; with 0 charging must be seen only"
                                    + " where it is due")),
            List.of(
                    new Need(Optional.of(Role.ADAPTER), List.of(Metric.ADAPTER_ONLINE)),
                    new Need(Optional.of(Role.BATTERY), List.of(Metric.BATTERY_CHARGE)))),
    FANS(
            50,
            CustomerQuestion.COOL,
            "no fan that turned stands still while what it cools is hot",
            List.of(
                    new Parameter(
                            "hot",
                            TEMPERATURE,
                            75,
                            40,
                            110,
                            "temperature of the chip from which its fan must turn (common practice, no source)"),
                    new Parameter(
                            "still-for",
                            DURATION,
                            15,
                            1,
                            600,
                            "how long a fan may stand still then; one that stood still while cold takes seconds to start"
                                    + " (common practice, no source)")),
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
            List.of(new Parameter(
                    "tolerance",
                    SHARE,
                    0.05,
                    0.001,
                    0.2,
                    "how far a fixed rail without limits of its own may be from its nominal voltage (ATX12V Power Supply"
                            + " Design Guide 2.0, section 3.2.1: a generic check, not the board's own limits)")),
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
            List.of(
                    new Parameter("coverage", SHARE, 0.99, 0.5, 1, "share of the samples due that must be there"),
                    new Parameter("longest-gap", DURATION, 10, 1, 3600, "longest time without a sample")),
            List.of());

    private final int rank;
    private final CustomerQuestion question;
    private final String summary;
    private final List<Parameter> parameters;
    private final List<Need> needs;
    private final Optional<LoadKind> load;

    Criterion(int rank, CustomerQuestion question, String summary, List<Parameter> parameters, List<Need> needs) {
        this(rank, question, summary, parameters, needs, Optional.empty());
    }

    Criterion(
            int rank,
            CustomerQuestion question,
            String summary,
            List<Parameter> parameters,
            List<Need> needs,
            LoadKind load) {
        this(rank, question, summary, parameters, needs, Optional.of(load));
    }

    Criterion(
            int rank,
            CustomerQuestion question,
            String summary,
            List<Parameter> parameters,
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

    public List<Parameter> parameters() {
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
    public Parameter parameter(String name) {
        return parameters.stream()
                .filter(p -> p.name().equals(name))
                .findFirst()
                .orElseThrow(() -> new IllegalArgumentException(word() + " has no parameter '" + name + "'"));
    }
}

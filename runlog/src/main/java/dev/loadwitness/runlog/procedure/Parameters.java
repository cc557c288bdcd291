// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import dev.loadwitness.runlog.procedure.Parameter.Celsius;
import dev.loadwitness.runlog.procedure.Parameter.Count;
import dev.loadwitness.runlog.procedure.Parameter.Kelvin;
import dev.loadwitness.runlog.procedure.Parameter.KelvinPerWatt;
import dev.loadwitness.runlog.procedure.Parameter.Seconds;
import dev.loadwitness.runlog.procedure.Parameter.Share;

/** Every number that a criterion can be given, by criterion; what is written here is what a procedure may say. */
public final class Parameters {
    private Parameters() {}

    /** Of {@link Criterion#SOAK_DURATION}. */
    public static final class SoakDuration {
        public static final Parameter<Seconds> AT_LEAST = Parameter.seconds(
                "at-least",
                3600,
                1,
                604_800,
                "how long the load must be held without a break; no longer than the stretch that the stages make");
        public static final Parameter<Share> POWER_SHARE = Parameter.share(
                        "power-share",
                        0.85,
                        0.1,
                        1,
                        "share of the fixed power reference (the job sheet's rated power), or of the work rate where no power is readable, that counts as loaded")
                .commonPractice();

        private SoakDuration() {}
    }

    /** Of {@link Criterion#LIMIT_WITHDRAWN}. */
    public static final class LimitWithdrawn {
        public static final Parameter<Share> TOLERANCE = Parameter.share(
                        "tolerance",
                        0.02,
                        0,
                        0.5,
                        "how far below the reference the limit may read before it counts as withdrawn")
                .commonPractice();

        private LimitWithdrawn() {}
    }

    /** Of {@link Criterion#COLD_STARTS}. */
    public static final class ColdStarts {
        public static final Parameter<Count> BOOTS =
                Parameter.count("boots", 3, 0, 20, "times switched off and on").commonPractice();
        public static final Parameter<Count> SLEEPS = Parameter.count(
                        "sleeps", 3, 0, 20, "times put to sleep and woken")
                .commonPractice();
        public static final Parameter<Count> REPLUGS = Parameter.count(
                        "replugs", 3, 0, 20, "times the adapter was pulled and put back without a load")
                .commonPractice();
        public static final Parameter<Seconds> WITHIN = Parameter.seconds(
                        "within",
                        120,
                        10,
                        3600,
                        "how soon after power-on, waking or the plug the load must do verified work")
                .commonPractice();

        private ColdStarts() {}
    }

    /** Of {@link Criterion#TEMPERATURE_CEILING}. */
    public static final class TemperatureCeiling {
        public static final Parameter<Kelvin> MARGIN = Parameter.kelvin(
                        "margin", 5, 0, 50, "how far below the device's own slowdown temperature it must stay")
                .commonPractice();
        public static final Parameter<Seconds> BLOCK = Parameter.seconds(
                "block",
                60,
                1,
                3600,
                "length of the means that are judged: the highest of thousands of single readings is biased upward");
        public static final Parameter<Celsius> CEILING = Parameter.celsius(
                        "ceiling", 90, 30, 125, "limit where the device states none")
                .commonPractice();
        public static final Parameter<Kelvin> UNCERTAINTY = Parameter.kelvin(
                        "uncertainty",
                        2,
                        0,
                        20,
                        "standard uncertainty of the sensor's calibration, used against limits that are not the device's own")
                .commonPractice();

        private TemperatureCeiling() {}
    }

    /** Of {@link Criterion#REPEAT_SOAK}. */
    public static final class RepeatSoak {
        public static final Parameter<Kelvin> AT_MOST = Parameter.kelvin(
                        "at-most", 3, 0.5, 20, "how much hotter the end of the second soak may be")
                .commonPractice();
        public static final Parameter<Celsius> COLD_BELOW = Parameter.celsius(
                        "cold-below", 45, 20, 70, "below which the part counts as cold; the agent waits for it")
                .commonPractice();
        public static final Parameter<Share> SAME_POWER = Parameter.share(
                        "same-power",
                        0.05,
                        0.01,
                        0.2,
                        "how far the powers of both soaks may differ and still be compared")
                .commonPractice();

        private RepeatSoak() {}
    }

    /** Of {@link Criterion#WARM_ROOM}. */
    public static final class WarmRoom {
        public static final Parameter<Celsius> WARM = Parameter.celsius(
                        "warm", 35, 0, 60, "the warm room's temperature")
                .commonPractice();
        public static final Parameter<Kelvin> MARGIN = Parameter.kelvin(
                        "margin", 5, 0, 50, "how far below the device's own slowdown temperature it must stay")
                .commonPractice();
        public static final Parameter<Celsius> CEILING = Parameter.celsius(
                        "ceiling", 90, 30, 125, "limit where the device states none")
                .commonPractice();
        public static final Parameter<Kelvin> UNCERTAINTY = Parameter.kelvin(
                        "uncertainty",
                        2,
                        0,
                        20,
                        "standard uncertainty of the sensor's calibration, used against limits that are not the device's own")
                .commonPractice();
        public static final Parameter<Kelvin> AMBIENT_UNCERTAINTY = Parameter.kelvin(
                        "ambient-uncertainty", 1, 0.1, 10, "standard uncertainty of the ambient temperature")
                .commonPractice();

        private WarmRoom() {}
    }

    /** Of {@link Criterion#THERMAL_RESISTANCE}. */
    public static final class ThermalResistance {
        public static final Parameter<KelvinPerWatt> AT_LEAST =
                Parameter.kelvinPerWatt("at-least", 0, 0, 20, "lower end of the model's band; none is known of itself");
        public static final Parameter<KelvinPerWatt> AT_MOST = Parameter.kelvinPerWatt(
                "at-most",
                20,
                0.01,
                20,
                "upper end of the model's band; none is known of itself, and with both ends open nothing is judged");
        public static final Parameter<Kelvin> UNCERTAINTY = Parameter.kelvin(
                        "uncertainty", 2, 0, 20, "standard uncertainty of the sensor's calibration")
                .commonPractice();
        public static final Parameter<Kelvin> AMBIENT_UNCERTAINTY = Parameter.kelvin(
                        "ambient-uncertainty", 1, 0.1, 10, "standard uncertainty of the ambient temperature")
                .commonPractice();
        public static final Parameter<Share> POWER_UNCERTAINTY = Parameter.share(
                        "power-uncertainty",
                        0.025,
                        0,
                        0.3,
                        "standard uncertainty of the reported power, where its source states none")
                .commonPractice();

        private ThermalResistance() {}
    }

    /** Of {@link Criterion#TEMPERATURE_SETTLED}. */
    public static final class TemperatureSettled {
        public static final Parameter<Kelvin> RISE = Parameter.kelvin(
                        "rise",
                        1,
                        0.1,
                        50,
                        "how much it may still rise, by the upper 95 % bound of its slope and one least digit of the sensor")
                .commonPractice();
        public static final Parameter<Seconds> WITHIN = Parameter.seconds(
                        "within", 600, 10, 86_400, "time within which it may")
                .commonPractice();
        public static final Parameter<Seconds> WINDOW = Parameter.seconds(
                "window",
                1200,
                60,
                86_400,
                "length of the last part of the load that is judged. A sensor of whole kelvins needs more than `within` × 1 K / `rise` to pass at all");

        private TemperatureSettled() {}
    }

    /** Of {@link Criterion#THROTTLE}. */
    public static final class Throttle {
        public static final Parameter<Count> AT_MOST =
                Parameter.count("at-most", 0, 0, 1e6, "episodes that are let pass");
        public static final Parameter<Seconds> AT_MOST_TIME =
                Parameter.seconds("at-most-time", 0, 0, 604_800, "time in such episodes that is let pass");
        public static final Parameter<Share> CLOCK_LOSS = Parameter.share(
                        "clock-loss",
                        0.2,
                        0.05,
                        0.9,
                        "how far the graphics clock may fall below what it held in the stage while nothing explains it")
                .commonPractice();

        private Throttle() {}
    }

    /** Of {@link Criterion#CLOCK_HELD}. */
    public static final class ClockHeld {
        public static final Parameter<Share> AT_LEAST = Parameter.share(
                        "at-least", 0.95, 0.1, 1, "share of the first rate held last")
                .commonPractice();
        public static final Parameter<Seconds> WINDOW = Parameter.seconds(
                "window", 600, 1, 86_400, "length of the first and of the last window; both must fit into the stretch");

        private ClockHeld() {}
    }

    /** Of {@link Criterion#POWER_HELD}. */
    public static final class PowerHeld {
        public static final Parameter<Share> AT_LEAST = Parameter.share(
                        "at-least", 0.85, 0.1, 1, "share of the fixed power reference that the median must reach")
                .commonPractice();
        public static final Parameter<Share> UNCERTAINTY = Parameter.share(
                        "uncertainty",
                        0.02,
                        0,
                        0.2,
                        "standard uncertainty of the power sensor's calibration, as a share of its reading, used against a rating that is not the device's own")
                .commonPractice();

        private PowerHeld() {}
    }

    /** Of {@link Criterion#POWER_STEADY}. */
    public static final class PowerSteady {
        public static final Parameter<Share> DEVIATION = Parameter.share(
                        "deviation",
                        0.05,
                        0.01,
                        0.5,
                        "deviation from the stage's median below which a mean never stands out, however quiet the others are")
                .commonPractice();

        private PowerSteady() {}
    }

    /** Of {@link Criterion#POWER_PLAUSIBLE}. */
    public static final class PowerPlausible {
        public static final Parameter<Share> EFFICIENCY = Parameter.share(
                        "efficiency", 0.85, 0.5, 1, "share of the power from the wall that reaches the chips")
                .commonPractice();
        public static final Parameter<Share> TOLERANCE = Parameter.share(
                        "tolerance",
                        0.2,
                        0.05,
                        0.5,
                        "how far the two may differ, as a share of what the machine reports")
                .commonPractice();

        private PowerPlausible() {}
    }

    /** Of {@link Criterion#ENERGY_AGREES}. */
    public static final class EnergyAgrees {
        public static final Parameter<Share> TOLERANCE = Parameter.share(
                        "tolerance", 0.02, 0.001, 0.2, "how far the two may differ")
                .commonPractice();

        private EnergyAgrees() {}
    }

    /** Of {@link Criterion#RAMP}. */
    public static final class Ramp {
        public static final Parameter<Seconds> LATENESS = Parameter.seconds(
                        "lateness", 2, 0.1, 60, "how late the load may follow a level")
                .commonPractice();

        private Ramp() {}
    }

    /** Of {@link Criterion#LOAD_STEPS}. */
    public static final class LoadSteps {
        public static final Parameter<Share> EDGE_SHARE = Parameter.share(
                        "edge-share", 0.1, 0.01, 0.5, "share of its period by which an edge may miss its moment")
                .commonPractice();
        public static final Parameter<Seconds> EDGE_TIME = Parameter.seconds(
                        "edge-time", 0.005, 0, 10, "time by which an edge may miss its moment, where that is more")
                .commonPractice();
        public static final Parameter<Share> LATE_EDGES = Parameter.share(
                        "late-edges",
                        0.01,
                        0,
                        0.5,
                        "share of the edges that may be missing or miss their moment by more")
                .commonPractice();

        private LoadSteps() {}
    }

    /** Of {@link Criterion#COMPUTE_ERRORS}. */
    public static final class ComputeErrors {
        public static final Parameter<Count> AT_MOST =
                Parameter.count("at-most", 0, 0, 1e6, "wrong results that are let pass");

        private ComputeErrors() {}
    }

    /** Of {@link Criterion#MEMORY_ERRORS}. */
    public static final class MemoryErrors {
        public static final Parameter<Count> AT_MOST =
                Parameter.count("at-most", 0, 0, 1e6, "faults that are let pass");

        private MemoryErrors() {}
    }

    /** Of {@link Criterion#HARDWARE_ERRORS}. */
    public static final class HardwareErrors {
        public static final Parameter<Count> RISE = Parameter.count(
                        "rise",
                        10,
                        2,
                        1000,
                        "how many times the idle rate of corrected errors the rate under load may be")
                .commonPractice();

        private HardwareErrors() {}
    }

    /** Of {@link Criterion#CHARGING}. */
    public static final class Charging {
        public static final Parameter<Share> DRAIN_PER_HOUR = Parameter.share(
                        "drain-per-hour",
                        0.05,
                        0,
                        0.5,
                        "points of charge an hour that may be lost while one chip is loaded")
                .commonPractice();
        public static final Parameter<Share> CHARGE_BELOW = Parameter.share(
                        "charge-below",
                        0.8,
                        0.05,
                        1,
                        "charge below which a battery is due to charge, where the firmware does not say; if it does not charge then, that is inconclusive, because a battery care mode looks the same")
                .commonPractice();
        public static final Parameter<Share> GAINED = Parameter.share(
                "gained",
                0,
                0,
                0.5,
                "points of charge that the stages without load must add; with 0 charging must be seen only where it is due");

        private Charging() {}
    }

    /** Of {@link Criterion#FANS}. */
    public static final class Fans {
        public static final Parameter<Celsius> HOT = Parameter.celsius(
                        "hot", 75, 40, 110, "temperature of the chip from which its fan must turn")
                .commonPractice();
        public static final Parameter<Seconds> STILL_FOR = Parameter.seconds(
                        "still-for",
                        15,
                        1,
                        600,
                        "how long a fan may stand still then; one that stood still while cold takes seconds to start")
                .commonPractice();

        private Fans() {}
    }

    /** Of {@link Criterion#RAILS}. */
    public static final class Rails {
        public static final Parameter<Share> TOLERANCE = Parameter.share(
                        "tolerance",
                        0.05,
                        0.001,
                        0.2,
                        "how far a fixed rail without limits of its own may be from its nominal voltage")
                .from(
                        "ATX12V Power Supply Design Guide 2.0, section 3.2.1, Table 2: a desktop supply's outputs, so a generic check and not the board's own limits");

        private Rails() {}
    }

    /** Of {@link Criterion#EVIDENCE}. */
    public static final class Evidence {
        public static final Parameter<Share> COVERAGE =
                Parameter.share("coverage", 0.99, 0.5, 1, "share of the samples due that must be there");
        public static final Parameter<Seconds> LONGEST_GAP =
                Parameter.seconds("longest-gap", 10, 1, 3600, "longest time without a sample");

        private Evidence() {}
    }
}

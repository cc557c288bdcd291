// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.runlog.Word;
import java.util.Random;

/** What befalls the machine in each sample run: one seed, one story. Times are seconds since the run began. */
public enum Scenario implements Word {
    /** A good repair. */
    CLEAN_PASS(101, "Repaired and cool: an hour at its full 150 W.", "pass"),

    /** A heatsink that rocks: now and then the die loses contact, and the hardware halves the clock. */
    BAD_CONTACT(102, "One heatsink screw is missing: contact comes and goes, and the GPU slows itself down.", "fail") {
        @Override
        void during(Laptop laptop, LaptopSensors sensors, double seconds, Random random) {
            // Two contacts, each held for some half a minute on average.
            if (random.nextDouble() < TICK_SECONDS / 35) {
                laptop.gpuContact(random.nextBoolean() ? 0.155 : 0.34 + 0.05 * random.nextDouble());
            }
        }
    },

    STILL_RISING(
            103,
            "Soft bench mat under a vent: nothing is crossed, but after an hour it is still warming.",
            "inconclusive") {
        @Override
        void during(Laptop laptop, LaptopSensors sensors, double seconds, Random random) {
            // The mat gives way under the warm case, and the vent closes further all the time.
            double closed = Math.min(1, seconds / 4200);
            laptop.vents(0.16 + 0.28 * closed, 2.3 - 0.8 * closed);
        }
    },

    POWER_CUT(104, "Dies in minute 22, cold and steady: the log breaks off in the middle of a line.", "inconclusive") {
        @Override
        double powerCutSeconds() {
            return 21 * 60 + 47.3;
        }
    },

    STUCK_SENSOR(105, "The GPU's temperature never moves, whatever the load does.", "inconclusive") {
        @Override
        void before(Laptop laptop, LaptopSensors sensors) {
            sensors.stickGpuTemperature(45);
        }
    },

    ADAPTER_LOST(106, "A worn power jack: in minute 31 the adapter drops out, and the load is taken off.", "fail") {
        @Override
        void during(Laptop laptop, LaptopSensors sensors, double seconds, Random random) {
            if (seconds >= 30 * 60 + 33) {
                laptop.adapter(PowerSupply.Adapter.OFF);
            }
        }
    },

    IDLE_SOAK(107, "The load reports work, but only at a trickle: an hour at 20 W proves nothing.", "fail") {
        @Override
        void before(Laptop laptop, LaptopSensors sensors) {
            laptop.loadShare(0.042);
        }
    },

    ADAPTER_NOT_RECOGNISED(
            108, "In minute 24 the adapter's identification fails: the limit falls to 80 W, and is met.", "fail") {
        @Override
        void during(Laptop laptop, LaptopSensors sensors, double seconds, Random random) {
            if (seconds >= 23 * 60 + 20) {
                laptop.adapter(PowerSupply.Adapter.NOT_RECOGNISED);
            }
        }
    },

    REGULATED(109, "Dry paste: the GPU holds its temperature target by shedding watts all the hour.", "fail") {
        @Override
        void before(Laptop laptop, LaptopSensors sensors) {
            laptop.gpuContact(0.265);
        }
    },

    FIRST_ATTEMPT(110, "First attempt on the ticket: dies in minute 9.", "inconclusive") {
        @Override
        double powerCutSeconds() {
            return 8 * 60 + 31.9;
        }
    },

    SECOND_ATTEMPT(111, "Second attempt, after new solder: dies in minute 35.", "inconclusive") {
        @Override
        double powerCutSeconds() {
            return 34 * 60 + 12.6;
        }
    },

    THIRD_ATTEMPT(112, "Third attempt, after a new driver: runs to its end.", "pass"),

    /** From here on: the short procedure, with ramp and load steps, in which one thing each goes wrong. */
    RAILS_PASS(113, "Ramp, soak and load steps in six minutes, nothing wrong.", "pass", 226),

    RAILS_LIGHT(
            114,
            "The load asks for two thirds: long enough, verified, and not what the GPU is rated for.",
            "fail",
            178) {
        @Override
        void before(Laptop laptop, LaptopSensors sensors) {
            laptop.loadShare(0.62);
        }
    },

    RAILS_DIP(115, "For twelve seconds of the soak half of the load is gone, with no flag.", "fail", 226) {
        @Override
        void during(Laptop laptop, LaptopSensors sensors, double seconds, Random random) {
            laptop.loadShare(seconds >= 230 && seconds < 242 ? 0.5 : 1);
        }
    },

    RAILS_METER(
            116,
            "A substitute power stage reports half as much again as flows: the wall meter does not agree.",
            "fail",
            166),

    RAILS_ENERGY(117, "The power reading is six per cent above what the energy counter says.", "fail", 226) {
        @Override
        void before(Laptop laptop, LaptopSensors sensors) {
            sensors.misreadPower(1.06);
        }
    },

    RAILS_BRAKE_AT_RAMP(118, "The power brake pulls for two seconds while the ramp crosses half load.", "fail", 226) {
        @Override
        void during(Laptop laptop, LaptopSensors sensors, double seconds, Random random) {
            sensors.powerBrake(seconds >= 82 && seconds < 84.2, TICK_SECONDS);
        }
    },

    RAILS_BRAKE_AT_STEPS(
            119, "The soak is held; among load steps the power brake pulls for two seconds.", "fail", 226) {
        @Override
        void during(Laptop laptop, LaptopSensors sensors, double seconds, Random random) {
            sensors.powerBrake(seconds >= 325 && seconds < 327.2, TICK_SECONDS);
        }
    },

    RAILS_MEMORY_ERROR(120, "Graphics memory reports one error that it could not correct.", "fail", 226) {
        @Override
        void during(Laptop laptop, LaptopSensors sensors, double seconds, Random random) {
            sensors.memoryErrors(seconds >= 250 ? 1 : 0);
        }
    },

    RAILS_CLOCK_LOST(
            121,
            "For twenty seconds the clock falls by a fifth and more in full use, and no flag says why.",
            "fail",
            226) {
        @Override
        void during(Laptop laptop, LaptopSensors sensors, double seconds, Random random) {
            laptop.gpu().loseClock(seconds >= 230 && seconds < 250 ? 0.78 : 1);
        }
    },

    /** From here on: a short procedure for battery, fans and devices, in which one thing each goes wrong. */
    BATTERY_DRAINS(134, "The adapter gives 160 W and calls itself recognised: the battery gives the rest.") {
        @Override
        void before(Laptop laptop, LaptopSensors sensors) {
            laptop.adapter(PowerSupply.Adapter.WEAK);
        }
    },

    KEYBOARD_DROPS(135, "The keyboard's ribbon is loose: it is gone for ten seconds of the soak.") {
        @Override
        boolean keyboardGone(double seconds) {
            return seconds >= 130 && seconds < 140;
        }
    },

    FAN_STALLS(124, "The GPU's fan seizes in the soak and stays still.") {
        @Override
        void during(Laptop laptop, LaptopSensors sensors, double seconds, Random random) {
            if (seconds >= 160) {
                laptop.gpuFan().stall();
            }
        }
    },

    RAILS_CUT(132, "Dies in the soak of the short procedure, cold and steady.", "inconclusive", 226) {
        @Override
        double powerCutSeconds() {
            return 243.3;
        }
    },

    RAILS_CUT_HOT(133, "A heatsink that comes off in the soak: hotter and hotter, then dead.", "fail", 226) {
        @Override
        void during(Laptop laptop, LaptopSensors sensors, double seconds, Random random) {
            if (seconds >= 200) {
                laptop.gpuContact(0.6);
            }
        }

        @Override
        double powerCutSeconds() {
            return 214.6;
        }
    },

    /** From here on: guided procedures, in which the technician does what the screen asks for. */
    COLD_STARTS_PASS(122, "Two replugs, two sleeps and two cold boots, and the load comes up after each.", "pass"),

    REPEAT_SOAK_FAILS(
            123, "The pads settle in the first soak: from cold, at the same power, the second ends hotter.", "fail") {
        @Override
        void during(Laptop laptop, LaptopSensors sensors, double seconds, Random random) {
            // The first soak ends after 26 minutes.
            laptop.gpuContact(seconds < 26.5 * 60 ? Laptop.GOOD_GPU_CONTACT : 0.2);
        }
    };

    /** How finely the physics is followed. */
    static final double TICK_SECONDS = 0.1;

    private final long seed;
    private final String story;
    private final String expected;
    private final int meterWatts;
    private final boolean onParts;

    Scenario(long seed, String story, String expected) {
        this(seed, story, expected, 0);
    }

    /** @param meterWatts what the wall meter reads in the soak of the short procedure; 0 for the long one */
    Scenario(long seed, String story, String expected, int meterWatts) {
        this.seed = seed;
        this.story = story;
        this.expected = expected;
        this.meterWatts = meterWatts;
        this.onParts = false;
    }

    /** One of the short procedure for battery, fans and devices, that fails. */
    Scenario(long seed, String story) {
        this.seed = seed;
        this.story = story;
        this.expected = "fail";
        this.meterWatts = 0;
        this.onParts = true;
    }

    /** Whether it follows the short procedure for battery, fans and devices. */
    boolean onParts() {
        return onParts;
    }

    /** Whether it follows the short procedure, with ramp and load steps. */
    boolean onRails() {
        return meterWatts > 0;
    }

    /** Whether stages ask for something, which the technician does. */
    boolean isGuided() {
        return this == COLD_STARTS_PASS || this == REPEAT_SOAK_FAILS;
    }

    int meterWatts() {
        return meterWatts;
    }

    public long seed() {
        return seed;
    }

    /** One line for people. */
    public String story() {
        return story;
    }

    /** The outcome's word that a judge must come to (see {@link Judge}). */
    public String expected() {
        return expected;
    }

    /** True if the machine dies: the log has no close, and on disk it breaks off inside a line. */
    public boolean diesSuddenly() {
        return !Double.isNaN(powerCutSeconds());
    }

    double powerCutSeconds() {
        return Double.NaN;
    }

    boolean keyboardGone(double seconds) {
        return false;
    }

    void before(Laptop laptop, LaptopSensors sensors) {}

    void during(Laptop laptop, LaptopSensors sensors, double seconds, Random random) {}
}

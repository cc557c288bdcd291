// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import java.util.Random;

/**
 * The discrete GPU "Corvid G7 150W": its clock follows the lowest of what its power limit, its temperature target and
 * its hardware slowdown allow; power follows clock, activity and temperature.
 *
 * <p>P = base + leakage(T) + k · activity · f^2.6: dynamic power goes with f·V², and V rises with f. The exponent, like
 * every figure here, is plausible and from memory.
 */
final class DiscreteGpu {
    static final double SLOWDOWN_CELSIUS = 89;
    static final double SHUTDOWN_CELSIUS = 95;
    static final double TARGET_CELSIUS = 87;
    static final double RATED_WATTS = 150;
    static final double BOOST_MEGAHERTZ = 2100;

    private static final double IDLE_MEGAHERTZ = 210;
    private static final double CLOCK_STEP_MEGAHERTZ = 15;
    private static final double BASE_WATTS = 8;
    private static final double LEAKAGE_AT_70_WATTS = 9;
    private static final double LEAKAGE_KELVIN = 55;
    private static final double DYNAMIC_WATTS = 131;
    private static final double DYNAMIC_AT_MEGAHERTZ = 1900;
    private static final double DYNAMIC_EXPONENT = 2.6;
    private static final double RECOVERED_CELSIUS = 84;
    private static final double UNITS_PER_SECOND_AND_MEGAHERTZ = 1.25;
    private static final double LOADED = 0.01;

    private final Random random;

    private double wander;
    private double expectedActivity;
    private double targetMegahertz = BOOST_MEGAHERTZ;
    private double sinceTarget;
    private boolean slowed;
    private double clockKept = 1;

    private double clockMegahertz = IDLE_MEGAHERTZ;
    private double watts = BASE_WATTS;
    private double meanWatts = BASE_WATTS;
    private double activity;
    private double joules;
    private double units;
    private boolean capped;
    private boolean hot;
    private double cappedSeconds;
    private double hotSeconds;

    DiscreteGpu(Random random) {
        this.random = random;
    }

    /**
     * One step.
     *
     * @param demand share of full activity that the load asks for, 0 to 1
     */
    void step(double seconds, double demand, double limitWatts, double dieCelsius) {
        boolean loaded = demand > LOADED;
        wander += -wander * seconds / 4 + 0.012 * StrictMath.sqrt(seconds / 2) * random.nextGaussian();
        activity = loaded ? Math.max(0, demand * (1 + wander)) : 0.02;
        expectedActivity += (activity - expectedActivity) * Math.min(1, seconds / 0.5);
        holdTarget(seconds, dieCelsius, loaded);
        slowed = dieCelsius >= SLOWDOWN_CELSIUS || (slowed && dieCelsius > RECOVERED_CELSIUS);

        double withinLimit = clockFor(limitWatts, dieCelsius);
        double allowed = Math.min(BOOST_MEGAHERTZ, Math.min(withinLimit, targetMegahertz));
        hot = loaded && (slowed || targetMegahertz < Math.min(withinLimit, BOOST_MEGAHERTZ));
        capped = loaded && !hot && clockKept == 1 && withinLimit < BOOST_MEGAHERTZ;
        if (slowed) {
            allowed /= 2; // what the vendor documents of a hardware slowdown: a factor of two or more
        }
        allowed *= clockKept;
        clockMegahertz = loaded
                ? Math.max(IDLE_MEGAHERTZ, Math.floor(allowed / CLOCK_STEP_MEGAHERTZ) * CLOCK_STEP_MEGAHERTZ)
                : IDLE_MEGAHERTZ;
        watts = constantWatts(dieCelsius) + activity * dynamicWatts(clockMegahertz);
        meanWatts += (watts - meanWatts) * Math.min(1, seconds / 0.5);
        joules += watts * seconds;
        units += loaded ? UNITS_PER_SECOND_AND_MEGAHERTZ * clockMegahertz * activity * seconds : 0;
        cappedSeconds += capped ? seconds : 0;
        hotSeconds += hot ? seconds : 0;
    }

    /** Once a second: a step down for each kelvin above the target, a step up when there is room again. */
    private void holdTarget(double seconds, double dieCelsius, boolean loaded) {
        sinceTarget += seconds;
        if (sinceTarget < 1) {
            return;
        }
        sinceTarget = 0;
        if (!loaded) {
            targetMegahertz = BOOST_MEGAHERTZ;
        } else if (dieCelsius > TARGET_CELSIUS) {
            targetMegahertz = Math.min(targetMegahertz, clockMegahertz)
                    - CLOCK_STEP_MEGAHERTZ * Math.ceil(dieCelsius - TARGET_CELSIUS);
        } else if (dieCelsius < TARGET_CELSIUS - 0.7) {
            targetMegahertz = Math.min(BOOST_MEGAHERTZ, targetMegahertz + CLOCK_STEP_MEGAHERTZ);
        }
    }

    /** The clock falls to this share for a reason that nothing tells, as where a signal of the power stage is bad. */
    void loseClock(double share) {
        clockKept = share;
    }

    private static double constantWatts(double dieCelsius) {
        return BASE_WATTS + LEAKAGE_AT_70_WATTS * StrictMath.exp((dieCelsius - 70) / LEAKAGE_KELVIN);
    }

    private static double dynamicWatts(double megahertz) {
        return DYNAMIC_WATTS * StrictMath.pow(megahertz / DYNAMIC_AT_MEGAHERTZ, DYNAMIC_EXPONENT);
    }

    private double clockFor(double limitWatts, double dieCelsius) {
        double left = Math.max(1, limitWatts - constantWatts(dieCelsius));
        return DYNAMIC_AT_MEGAHERTZ
                * StrictMath.pow(left / (Math.max(LOADED, expectedActivity) * DYNAMIC_WATTS), 1 / DYNAMIC_EXPONENT);
    }

    double clockMegahertz() {
        return clockMegahertz;
    }

    /** Power of this moment: what heats the die and what the adapter must deliver. */
    double watts() {
        return watts;
    }

    /** Power as the driver reports it: smoothed over about a second. */
    double meanWatts() {
        return meanWatts;
    }

    double joules() {
        return joules;
    }

    /** Work done, verified by the load. */
    double units() {
        return units;
    }

    double utilization() {
        return Math.min(1, activity);
    }

    boolean capped() {
        return capped;
    }

    boolean hot() {
        return hot;
    }

    double cappedSeconds() {
        return cappedSeconds;
    }

    double hotSeconds() {
        return hotSeconds;
    }
}

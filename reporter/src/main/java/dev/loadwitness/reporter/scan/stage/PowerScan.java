// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.stage;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.runlog.Role;

/** Follows power and energy of one part through one stage. */
final class PowerScan {
    private static final double SETTLE_SECONDS = 10;

    /** Readings further apart than this many sampling periods are not joined by a straight line. */
    private static final double LONGEST_STEP_PERIODS = 3;

    private final Role role;
    private final double from;
    private final double longestStep;

    private double lastAt = Double.NaN;
    private double countedAt = Double.NaN;
    private double countedValue;
    private double countedJoules;
    private double countedSeconds;
    private double addedAt = Double.NaN;
    private double addedValue;
    private double addedJoules;
    private double addedSeconds;
    private double asleepSeconds;

    private double bothAt = Double.NaN;
    private double bothCounter;
    private double bothWatts;
    private double bothCounted;
    private double bothAdded;
    private double bothSeconds;

    PowerScan(Role role, At begin, double periodSeconds) {
        this.role = role;
        this.from = begin.seconds() + SETTLE_SECONDS;
        this.longestStep = LONGEST_STEP_PERIODS * periodSeconds;
    }

    /** One sample; what is NaN was not read. {@code awake} is 0 while the part has no power. */
    void add(double at, double joules, double watts, double awake) {
        if (at < from) {
            return;
        }
        if (!Double.isNaN(joules)) {
            count(at, joules);
        }
        if (!Double.isNaN(watts)) {
            addUp(at, watts);
        }
        if (!Double.isNaN(joules) && !Double.isNaN(watts)) {
            compare(at, joules, watts);
        } else if (awake == 0 && Double.isNaN(joules) && Double.isNaN(watts) && !Double.isNaN(lastAt)) {
            asleepSeconds += at - lastAt;
        }
        lastAt = at;
    }

    /** A counter that reads less than before began anew: that step is left out, time and energy. */
    private void count(double at, double joules) {
        if (joules >= countedValue && !Double.isNaN(countedAt)) {
            countedJoules += joules - countedValue;
            countedSeconds += at - countedAt;
        }
        countedAt = at;
        countedValue = joules;
    }

    private void addUp(double at, double watts) {
        if (at - addedAt <= longestStep) {
            addedJoules += (addedValue + watts) / 2 * (at - addedAt);
            addedSeconds += at - addedAt;
        }
        addedAt = at;
        addedValue = watts;
    }

    private void compare(double at, double joules, double watts) {
        if (at - bothAt <= longestStep && joules >= bothCounter) {
            bothCounted += joules - bothCounter;
            bothAdded += (bothWatts + watts) / 2 * (at - bothAt);
            bothSeconds += at - bothAt;
        }
        bothAt = at;
        bothCounter = joules;
        bothWatts = watts;
    }

    PowerTally finish() {
        double joules = countedSeconds > 0 ? countedJoules : addedJoules;
        double seconds = (countedSeconds > 0 ? countedSeconds : addedSeconds) + asleepSeconds;
        return new PowerTally(role, seconds > 0 ? joules / seconds : Double.NaN, bothCounted, bothAdded, bothSeconds);
    }
}

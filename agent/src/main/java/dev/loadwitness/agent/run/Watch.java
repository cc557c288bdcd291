// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import dev.loadwitness.runlog.EventKind;
import java.time.Duration;
import java.time.Instant;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import java.util.function.LongSupplier;
import org.jspecify.annotations.Nullable;

/** Holds the three clocks against each other, sample by sample: finds sleep, clock steps, stalls and hangs. */
final class Watch {
    /** Clocks that are read one after the other under full load disagree by less than this. */
    private static final double CLOCK_STEP_SECONDS = 1;

    private static final double SLEEP_SECONDS = 2;
    private static final double STALL_SECONDS = 5;
    private static final double HANG_SECONDS = 10;

    /** Loads that did less than this share of their usual work during a stall stood still too. */
    private static final double STOOD_STILL = 0.5;

    private final RunClock clock;
    private final LongSupplier heartbeatGapNanos;
    private long lastNanos;
    private @Nullable Instant lastWall;
    private double lastBoot;
    private boolean begun;

    private @Nullable Stall stall;
    private double lastVerified;
    private double unitsPerSecond;

    Watch(RunClock clock, LongSupplier heartbeatGapNanos) {
        this.clock = clock;
        this.heartbeatGapNanos = heartbeatGapNanos;
    }

    /** A sample that came much too late, until the next one shows whether the loads went on meanwhile. */
    private record Stall(double seconds, double heartbeatSeconds, double verifiedBefore, double unitsPerSecond) {}

    /** Something that the clocks show. */
    record Seen(EventKind kind, Map<String, Object> facts) {}

    /**
     * Call at each sample.
     *
     * @param lateSeconds how late it is
     * @param verified units of all loads together, ever growing
     */
    List<Seen> look(double lateSeconds, double verified) {
        List<Seen> seen = new ArrayList<>();
        long nanos = clock.nanos();
        Instant wall = clock.wallClock();
        double boot = clock.bootTimeSeconds();
        double heartbeat = heartbeatGapNanos.getAsLong() / 1e9;
        if (begun) {
            double passed = (nanos - lastNanos) / 1e9;
            double slept = Double.isNaN(boot) || Double.isNaN(lastBoot) ? 0 : boot - lastBoot - passed;
            if (slept > SLEEP_SECONDS) {
                seen.add(new Seen(EventKind.SUSPENDED, Map.of("seconds", slept)));
            } else {
                slept = 0;
            }
            double step = Duration.between(lastWall, wall).toNanos() / 1e9 - passed - slept;
            if (Math.abs(step) > CLOCK_STEP_SECONDS) {
                seen.add(new Seen(EventKind.CLOCK_STEP, Map.of("seconds", step)));
            }
            if (stall != null) {
                seen.add(settle(stall, verified, passed));
                stall = null;
            } else if (lateSeconds > STALL_SECONDS) {
                stall = new Stall(lateSeconds, heartbeat, lastVerified, unitsPerSecond);
            } else if (passed > 0) {
                unitsPerSecond = Math.max(0, verified - lastVerified) / passed;
            }
        }
        lastVerified = verified;
        lastNanos = nanos;
        lastWall = wall;
        lastBoot = boot;
        begun = true;
        return seen;
    }

    private static Seen settle(Stall stall, double verified, double passedSince) {
        double expected = stall.unitsPerSecond * (stall.seconds + passedSince);
        boolean loadsStoodStill = verified - stall.verifiedBefore < STOOD_STILL * expected;
        if (stall.seconds >= HANG_SECONDS
                && stall.heartbeatSeconds >= HANG_SECONDS
                && expected > 0
                && loadsStoodStill) {
            return new Seen(EventKind.HANG, Map.of("seconds", stall.seconds));
        }
        return new Seen(
                EventKind.WITNESS_STALLED,
                Map.of(
                        "seconds",
                        stall.seconds,
                        "detail",
                        "a sample came " + Math.round(stall.seconds) + " s late while the loads "
                                + (expected == 0 ? "were off" : loadsStoodStill ? "stood still" : "went on")));
    }
}

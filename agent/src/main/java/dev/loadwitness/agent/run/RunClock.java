// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import dev.loadwitness.runlog.disk.KernelFile;
import java.io.IOException;
import java.nio.file.Path;
import java.time.Instant;

/** The clocks of a run, handed in. */
public interface RunClock {
    /** Orders samples. Nanoseconds since the run's program began; never steps, and stands still while suspended. */
    long nanos();

    /** For people to read; never subtracted, except to see that it was moved. */
    Instant wallClock();

    /** Seconds since power-on, suspended time included; NaN if the system does not tell. */
    double bootTimeSeconds();

    /** False for a clock that tells a time before this program was made. */
    static boolean isPlausible() {
        return Instant.now().isAfter(Instant.parse("2026-11-01T00:00:00Z"));
    }

    /** The kernel's name for this start of the machine; empty if it does not tell. */
    static String bootId() {
        try {
            return KernelFile.text(Path.of("/proc/sys/kernel/random/boot_id")).strip();
        } catch (IOException e) {
            return "";
        }
    }

    /** The clocks of this machine. */
    static RunClock ofThisMachine() {
        long start = System.nanoTime();
        return new RunClock() {
            @Override
            public long nanos() {
                return System.nanoTime() - start;
            }

            @Override
            public Instant wallClock() {
                return Instant.now();
            }

            @Override
            public double bootTimeSeconds() {
                try {
                    // Linux: seconds since boot with suspended time, of which nanoTime knows nothing.
                    String uptime = KernelFile.text(Path.of("/proc/uptime"));
                    return Double.parseDouble(uptime.substring(0, uptime.indexOf(' ')));
                } catch (IOException | RuntimeException e) {
                    return Double.NaN;
                }
            }
        };
    }
}

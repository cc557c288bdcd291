// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.gpu;

import dev.loadwitness.agent.load.worker.ComputeDevice;
import java.util.Locale;
import java.util.Optional;
import java.util.concurrent.TimeUnit;

/** What a device got done so far, and a line about it once a second. */
final class Throughput {
    private static final long NOTE_NANOS = TimeUnit.SECONDS.toNanos(1);

    private double gigaFlop;
    private double gigabytes;
    private long busyNanos;
    private long longestNanos;
    private long countedSinceNanos = System.nanoTime();
    private long nextNoteNanos = System.nanoTime() + NOTE_NANOS;
    private double notedFlop;
    private double notedBytes;
    private long notedBusy;

    /** Rates since some moment. */
    record Rates(double gflops, double gigabytes, double watts) {}

    /** Where a trial begins. */
    record Mark(long nanos, double gigaFlop, double gigabytes) {}

    Mark mark() {
        return new Mark(System.nanoTime(), gigaFlop, gigabytes);
    }

    /** From then until now. */
    Rates since(Mark begin, double watts) {
        double seconds = (System.nanoTime() - begin.nanos) / 1e9;
        return new Rates((gigaFlop - begin.gigaFlop) / seconds, (gigabytes - begin.gigabytes) / seconds, watts);
    }

    /** A launch took so long, whatever came of it. */
    void busy(long nanos) {
        longestNanos = Math.max(longestNanos, nanos);
        busyNanos += nanos;
    }

    /** Its result was right. */
    void done(Engine.Result result) {
        gigaFlop += result.gigaFlop();
        gigabytes += result.gigabytes();
    }

    /** The line that is due; empty before that. */
    Optional<String> note(ComputeDevice device, String setting) {
        long now = System.nanoTime();
        if (now < nextNoteNanos) {
            return Optional.empty();
        }
        double seconds = (now - countedSinceNanos) / 1e9;
        double gflops = (gigaFlop - notedFlop) / seconds;
        String peak = device.peakGflops()
                .map(p -> String.format(Locale.ROOT, " (%.1f %% of %.0f)", 100 * gflops / p, p))
                .orElse("");
        String note = String.format(
                Locale.ROOT,
                "%.0f GFLOP/s%s, %.1f GB/s, busy %.0f %%, longest launch %.1f ms; %s",
                gflops,
                peak,
                (gigabytes - notedBytes) / seconds,
                (busyNanos - notedBusy) / seconds / 1e7,
                longestNanos / 1e6,
                setting);
        countedSinceNanos = now;
        nextNoteNanos = now + NOTE_NANOS;
        notedFlop = gigaFlop;
        notedBytes = gigabytes;
        notedBusy = busyNanos;
        longestNanos = 0;
        return Optional.of(note);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.place;

import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import dev.loadwitness.runlog.disk.DiskException;
import java.io.IOException;
import java.nio.file.Path;
import java.time.Duration;
import java.util.ArrayList;
import java.util.List;
import java.util.Locale;
import java.util.Optional;

/**
 * The disk under a log, as looked at before a run.
 *
 * @param folder where the log will go; may not be there yet
 * @param refused why nothing can be written there; empty if it can
 */
public record LogPlace(Path folder, Optional<FileSystem> fileSystem, Optional<AppendTime> append, String refused) {
    /** A sample's size by its channels, from recorded runs: 191 bytes with 6, 297 with 27. */
    private static final double SAMPLE_BYTES = 165;

    private static final double CHANNEL_BYTES = 5;
    private static final double LITTLE_ROOM_HOURS = 24;
    private static final double SECONDS_PER_HOUR = 3600;

    /** Measures for about {@code budget}, and leaves nothing behind. */
    public static LogPlace look(Path folder, Duration budget) {
        Path existing = FileSystem.existing(folder);
        Optional<FileSystem> fileSystem;
        try {
            fileSystem = Optional.of(FileSystem.of(existing));
        } catch (IOException e) {
            fileSystem = Optional.empty(); // in a root without /proc, say: the log can be written all the same
        }
        try {
            return new LogPlace(folder, fileSystem, Optional.of(AppendTime.measure(existing, budget)), "");
        } catch (IOException e) {
            String why = fileSystem.map(FileSystem::readOnly).orElse(false) ? "it is mounted read-only" : why(e);
            return new LogPlace(folder, fileSystem, Optional.empty(), why);
        }
    }

    private static String why(IOException e) {
        return e instanceof DiskException disk ? disk.getMessage() : e.toString();
    }

    /** For {@code probe}. */
    public List<String> lines(Duration period, int channels) {
        List<String> lines = new ArrayList<>();
        lines.add(folder.toAbsolutePath().normalize() + (isThere() ? "" : " (will be made)"));
        fileSystem.ifPresent(f -> lines.add("on " + f.word() + ", " + (f.readOnly() ? "read-only, " : "")
                + bytes(f.freeBytes()) + " free: " + hours(hours(f, period, channels)) + " of log with "
                + channels
                + " " + (channels == 1 ? "channel" : "channels") + ", " + perSecond(period)));
        memoryWarning().ifPresent(lines::add);
        if (append.isEmpty()) {
            lines.add("CANNOT BE WRITTEN: " + refused + "; choose another folder with --out");
            return lines;
        }
        AppendTime time = append.get();
        lines.add(String.format(
                Locale.ROOT,
                "a record is on the disk after %s (median), %s (%s of %d): carries %s samples a second, each by itself",
                seconds(time.medianSeconds()),
                seconds(time.p99Seconds()),
                time.appends() < 100 ? "longest" : "99th percentile",
                time.appends(),
                rate(time.recordsPerSecond())));
        lines.add(perSecond(period) + " the oldest record not yet on the disk is "
                + seconds(time.oldestUndurable(period).toNanos() / 1e9) + " old");
        lines.addAll(slow(period));
        return lines;
    }

    private boolean isThere() {
        return FileSystem.existing(folder).equals(folder.toAbsolutePath().normalize());
    }

    /** Said loudly: most folders that look like a disk's are one. */
    Optional<String> memoryWarning() {
        return fileSystem
                .filter(FileSystem::memory)
                .map(f -> "THIS LOG WOULD LIE IN MEMORY (" + f.word()
                        + "): IT DOES NOT SURVIVE A POWER CUT. Take a folder on the stick or on a disk with --out");
    }

    /** Whether what is written there is gone when the machine is switched off. */
    public boolean isInMemory() {
        return fileSystem.filter(FileSystem::memory).isPresent();
    }

    /** What is worth saying before a run; nothing of a disk that is as it should be. */
    public List<String> warnings(Duration period) {
        List<String> lines = new ArrayList<>();
        memoryWarning().ifPresent(lines::add);
        lines.addAll(slow(period));
        fileSystem
                .filter(f -> hours(f, period, 30) < LITTLE_ROOM_HOURS)
                .ifPresent(f -> lines.add("Only " + bytes(f.freeBytes()) + " are free in " + f.folder() + ": "
                        + hours(hours(f, period, 30)) + " of log"));
        return lines;
    }

    private List<String> slow(Duration period) {
        double p99 = append.map(AppendTime::p99Seconds).orElse(0.0);
        if (p99 * 1e9 <= period.toNanos()) {
            return List.of();
        }
        return List.of(
                "THIS DISK IS SLOW: a record takes up to " + seconds(p99) + " until it is on the disk, longer than "
                        + "the sampling period of " + seconds(period.toNanos() / 1e9)
                        + ". Records go to it in groups; a power cut "
                        + "can lose the last "
                        + seconds(append.orElseThrow().oldestUndurable(period).toNanos() / 1e9));
    }

    /**
     * Refuses where a run could not keep what its header states.
     *
     * @param promised the largest age of a record not yet on the disk
     */
    public void check(Duration period, Duration promised) throws Complaint {
        if (append.isEmpty()) {
            throw new Complaint(
                    Sysexits.CANNOT_CREATE,
                    folder + " cannot be written: " + refused + ". Nothing was started; choose another with --out");
        }
        Duration oldest = append.get().oldestUndurable(period);
        if (oldest.compareTo(promised) > 0) {
            throw new Complaint(
                    Sysexits.CANNOT_CREATE,
                    folder + " is too slow for this run: a record takes up to "
                            + seconds(append.get().p99Seconds())
                            + " until it is on the disk, so that a power cut could lose "
                            + "the last " + seconds(oldest.toNanos() / 1e9) + ", and the log would promise "
                            + seconds(promised.toNanos() / 1e9)
                            + ". Nothing was started. Set a slower 'sampling:' in the"
                            + " procedure, keep the log on the internal disk with --work-dir DIR, or take another stick");
        }
    }

    private static double hours(FileSystem f, Duration period, int channels) {
        double perSecond = (SAMPLE_BYTES + CHANNEL_BYTES * channels) / (period.toNanos() / 1e9);
        return f.freeBytes() / perSecond / SECONDS_PER_HOUR;
    }

    private static String hours(double hours) {
        if (hours < 1) {
            return "about " + Math.round(hours * 60) + " min";
        }
        return hours < 10_000 ? "about " + Math.round(hours) + " h" : "more than 10,000 h";
    }

    private static String perSecond(Duration period) {
        return "at one sample each " + seconds(period.toNanos() / 1e9);
    }

    private static String rate(double perSecond) {
        return perSecond >= 10
                ? String.format(Locale.ROOT, "%.0f", Math.floor(perSecond))
                : String.format(Locale.ROOT, "%.1f", perSecond);
    }

    private static String seconds(double seconds) {
        if (seconds < 0.0095) {
            return String.format(Locale.ROOT, "%.1f ms", seconds * 1e3);
        }
        if (seconds < 1) {
            return String.format(Locale.ROOT, "%.0f ms", seconds * 1e3);
        }
        String text = String.format(Locale.ROOT, "%.1f", seconds);
        return (text.endsWith(".0") ? text.substring(0, text.length() - 2) : text) + " s";
    }

    private static String bytes(long bytes) {
        double gib = bytes / (double) (1 << 30);
        return gib >= 1
                ? String.format(Locale.ROOT, "%.1f GiB", gib)
                : String.format(Locale.ROOT, "%.1f MiB", bytes / (double) (1 << 20));
    }
}

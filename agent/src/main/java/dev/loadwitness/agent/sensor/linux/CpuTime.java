// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.agent.sensor.linux.file.Ids;
import dev.loadwitness.agent.sensor.linux.file.KernelSource;
import dev.loadwitness.agent.sensor.linux.file.Line;
import dev.loadwitness.agent.sensor.linux.file.SampledFile;
import dev.loadwitness.agent.sensor.linux.file.Sysfs;
import dev.loadwitness.agent.sensor.linux.file.Value;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.io.IOException;
import java.nio.ByteBuffer;
import java.nio.file.Path;
import java.util.List;
import java.util.Optional;

/**
 * Share of time in which the processors worked since the last read, from the first line of {@code /proc/stat}
 * (proc_stat(5), kernel document {@code filesystems/proc.rst}).
 */
final class CpuTime implements Value {
    private static final String SOURCE = "proc/stat";
    private static final int USER = 0;
    private static final int NICE = 1;
    private static final int IDLE = 3;
    private static final int WAITING = 4;
    private static final int STOLEN = 7;
    /** Guest time, further right, is contained in user time. */
    private static final int COLUMNS = 8;

    private final SampledFile file;
    private final long[] columns = new long[COLUMNS];
    private boolean started;
    private long lastBusy;
    private long lastTotal;

    private CpuTime(SampledFile file) {
        this.file = file;
    }

    static Optional<Source> find(Path root, Ids ids) {
        Path stat = root.resolve("proc/stat");
        if (!Sysfs.whyUnreadable(stat).isEmpty()) {
            return Optional.empty();
        }
        Channel channel = Channel.of(ids.unique("cpu.utilization"), Metric.CPU_UTILIZATION, Role.CPU, SOURCE)
                .withComponent("system/cpu", "");
        return Optional.of(new KernelSource(SOURCE, List.of(new Line(channel, new CpuTime(new SampledFile(stat))))));
    }

    /** NaN at the first read, and when no tick has passed since the last. */
    @Override
    public double read() throws IOException {
        parse(file.bytes());
        long total = 0;
        for (long column : columns) {
            total += column;
        }
        long busy = total - columns[IDLE] - columns[WAITING] - columns[STOLEN];
        long passed = total - lastTotal;
        double share = (double) (busy - lastBusy) / passed;
        boolean usable = started && passed > 0;
        started = true;
        lastTotal = total;
        lastBusy = busy;
        // idle time may be counted backwards by a few ticks, says the kernel's document
        return usable ? Math.max(0, Math.min(1, share)) : Double.NaN;
    }

    private void parse(ByteBuffer bytes) throws IOException {
        if (!file.startsWithLoaded("cpu ")) {
            throw new IOException("stat does not begin with 'cpu '");
        }
        int at = 3;
        for (int column = USER; column < COLUMNS; column++) {
            while (at < bytes.limit() && bytes.get(at) == ' ') {
                at++;
            }
            long value = 0;
            int first = at;
            while (at < bytes.limit() && bytes.get(at) >= '0' && bytes.get(at) <= '9') {
                value = value * 10 + (bytes.get(at) - '0');
                at++;
            }
            if (at == first && column <= NICE + 2) {
                throw new IOException("stat has too few columns");
            }
            columns[column] = value;
        }
    }

    @Override
    public List<SampledFile> files() {
        return List.of(file);
    }
}

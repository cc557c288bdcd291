// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux.file;

import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.runlog.Channel;
import java.io.IOException;
import java.util.Arrays;
import java.util.List;
import java.util.Optional;

/** One chip or table of the kernel. */
public final class KernelSource implements Source {
    private final String name;
    private final List<Channel> channels;
    private final Value[] values;
    private final Optional<SampledFile> runtimeStatus;

    public KernelSource(String name, List<Line> lines) {
        this(name, lines, Optional.empty());
    }

    /** @param runtimeStatus of a device that may sleep, and is then left alone: asking it could wake it */
    public KernelSource(String name, List<Line> lines, Optional<SampledFile> runtimeStatus) {
        this.name = name;
        channels = lines.stream().map(Line::channel).toList();
        values = lines.stream().map(Line::value).toArray(Value[]::new);
        this.runtimeStatus = runtimeStatus;
    }

    @Override
    public String name() {
        return name;
    }

    @Override
    public List<Channel> channels() {
        return channels;
    }

    @Override
    public void read(double[] into, int from) throws IOException {
        // "suspended" and "suspending"; a status that cannot be read throws, because then waking it cannot be excluded
        if (runtimeStatus.isPresent() && runtimeStatus.get().startsWith("suspend")) {
            Arrays.fill(into, from, from + values.length, Double.NaN);
            return;
        }
        int answers = 0;
        IOException last = null;
        for (int i = 0; i < values.length; i++) {
            try {
                into[from + i] = values[i].read();
                answers++;
            } catch (IOException e) {
                into[from + i] = Double.NaN;
                last = e;
            }
        }
        if (answers == 0 && last != null) {
            throw new IOException(last.getMessage(), last);
        }
    }

    @Override
    public void close() {
        for (Value value : values) {
            value.files().forEach(SampledFile::close);
        }
        runtimeStatus.ifPresent(SampledFile::close);
    }
}

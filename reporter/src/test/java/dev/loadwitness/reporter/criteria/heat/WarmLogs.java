// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.heat;

import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.util.HashMap;
import java.util.Map;

/**
 * Logs of a machine whose chips warm each other: rise = Σ R·P with one time constant, whatever the stages do. The room is at
 * 22.5 °C, the fan at 3,000 rpm.
 */
public final class WarmLogs {
    static final double TAU = 150;
    private static final double ROOM = 22.5;

    /** K/W: how the GPU warms by its own watts and by the CPU's, and the same of the CPU. */
    private double gpuByGpu = 0.35;

    private final double gpuByCpu = 0.15;
    private final double cpuByCpu = 0.6;
    private final double cpuByGpu = 0.12;
    private final Map<String, double[]> watts = new HashMap<>();
    private final LogBuilder log;

    public WarmLogs() {
        log = LogBuilder.laptop();
        log.channel(Channel.of("fan.one", Metric.FAN_SPEED, Role.FAN, "hwmon"), m -> 3000);
        log.channel(Channel.of("cpu.power", Metric.POWER, Role.CPU, "powercap"), m -> watts(m.stage())[1]);
        log.curve("gpu.power", m -> watts(m.stage())[0]);
        log.curve("gpu.temperature", m -> Math.rint(10 * celsius(m, gpuByGpu, gpuByCpu)) / 10)
                .describe("gpu.temperature", c -> c.withQuality(0.1, Double.NaN));
        log.curve("cpu.temperature", m -> Math.rint(10 * celsius(m, cpuByGpu, cpuByCpu)) / 10)
                .describe("cpu.temperature", c -> c.withQuality(0.1, Double.NaN));
    }

    private double[] watts(String stage) {
        return watts.getOrDefault(stage, new double[] {8, 6});
    }

    /** Every stage begins at what the idle machine has: simpler than a machine, and enough for the end of each stage. */
    private double celsius(LogBuilder.Moment m, double byGpu, double byCpu) {
        double idle = byGpu * 8 + byCpu * 6;
        double end = byGpu * watts(m.stage())[0] + byCpu * watts(m.stage())[1];
        return ROOM + end - (end - idle) * StrictMath.exp(-m.intoStage() / TAU);
    }

    WarmLogs gpuContact(double kelvinPerWatt) {
        gpuByGpu = kelvinPerWatt;
        return this;
    }

    public WarmLogs soak(String id, double seconds, double gpu, double cpu) {
        watts.put(id, new double[] {gpu, cpu});
        log.soak(id, seconds);
        return this;
    }

    WarmLogs cpuStage(String id, double seconds, double gpu, double cpu) {
        watts.put(id, new double[] {gpu, cpu});
        log.stage(id, seconds, "loads: [cpu]", Role.CPU);
        return this;
    }

    public LogBuilder log() {
        return log;
    }
}

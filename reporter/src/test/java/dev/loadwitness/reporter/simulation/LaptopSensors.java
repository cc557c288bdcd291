// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import java.util.Random;
import java.util.function.DoubleSupplier;

/** What the laptop's sensors tell: each with its own steps and noise, and none of them the truth. */
final class LaptopSensors {
    static final String GPU_TEMPERATURE = "gpu-discrete.temperature";
    static final String GPU_POWER = "gpu-discrete.power";
    static final String GPU_POWER_LIMIT = "gpu-discrete.power.limit";
    static final String GPU_ENERGY = "gpu-discrete.energy";
    static final String GPU_CLOCK = "gpu-discrete.clock";
    static final String GPU_HEAT = "gpu-discrete.throttle.heat.active";
    static final String GPU_POWER_CAP = "gpu-discrete.throttle.power-cap.active";
    static final String CPU_TEMPERATURE = "cpu.package.temperature";
    static final String ADAPTER = "adapter.online";
    static final String CHARGE = "battery.bat0.charge";

    /** The source that is made to fall silent on purpose before each load. */
    static final String DROPOUT_SOURCE = "hwmon/coretemp";

    private static final String GPU = "gpu/pci-0000-01-00.0";
    private static final String GPU_DEVICE = "0000:01:00.0";

    private final List<Line> lines = new ArrayList<>();
    private final Random random;
    private double stuckGpuCelsius = Double.NaN;
    private double powerFactor = 1;
    private boolean braked;
    private double brakedSeconds;
    private double memoryErrors;

    private record Line(Channel channel, DoubleSupplier value) {}

    /**
     * @param errorCounters whether the GPU counts errors of its link and its memory
     * @param processorTells whether the processor tells its power limit, and its graphics a temperature
     */
    LaptopSensors(Laptop laptop, Random random, boolean errorCounters, boolean processorTells) {
        this.random = random;
        discreteGpu(laptop);
        if (errorCounters) {
            gpu("gpu-discrete.pcie.replays", Metric.PCIE_REPLAYS, 1, Map.of(), () -> 0);
            gpu("gpu-discrete.memory.errors", Metric.HARDWARE_ERRORS, 1, Map.of(), () -> memoryErrors);
        }
        processor(laptop);
        if (processorTells) {
            Quantiser temperature = new Quantiser(1, 0);
            lines.add(new Line(
                    Channel.of("cpu.package.power.limit", Metric.POWER_LIMIT, Role.CPU, "powercap")
                            .withQuality(1, Double.NaN),
                    () -> Processor.LONG_TERM_WATTS));
            lines.add(new Line(
                    Channel.of("gpu-integrated.temperature", Metric.TEMPERATURE, Role.GPU_INTEGRATED, "hwmon/graphics")
                            .withQuality(1, Double.NaN)
                            .withLimits(Map.of(LimitType.THROTTLED, Processor.THROTTLED_CELSIUS)),
                    () -> temperature.read(laptop.heat().celsius(Laptop.CPU_DIE) + 0.6 * random.nextGaussian())));
        }
        rest(laptop);
    }

    private void discreteGpu(Laptop laptop) {
        DiscreteGpu gpu = laptop.gpu();
        ThermalNetwork heat = laptop.heat();
        Quantiser temperature = new Quantiser(1, 0.2);
        gpu(
                GPU_TEMPERATURE,
                Metric.TEMPERATURE,
                1,
                Map.of(
                        LimitType.THROTTLED, DiscreteGpu.SLOWDOWN_CELSIUS,
                        LimitType.HIGH_CRITICAL, DiscreteGpu.SHUTDOWN_CELSIUS,
                        LimitType.MAX, DiscreteGpu.TARGET_CELSIUS),
                () -> Double.isNaN(stuckGpuCelsius)
                        ? temperature.read(heat.celsius(Laptop.GPU_DIE) + 0.1 * random.nextGaussian())
                        : stuckGpuCelsius);
        gpu(
                GPU_POWER,
                Metric.POWER,
                0.1,
                Map.of(),
                () -> rounded(powerFactor * gpu.meanWatts() + 0.2 * random.nextGaussian(), 10));
        gpu(
                GPU_POWER_LIMIT,
                Metric.POWER_LIMIT,
                1,
                Map.of(LimitType.MAX, DiscreteGpu.RATED_WATTS),
                () -> laptop.supply().gpuLimitWatts());
        gpu(GPU_ENERGY, Metric.ENERGY, 0.001, Map.of(), () -> rounded(gpu.joules(), 1000));
        gpu(
                GPU_CLOCK,
                Metric.GPU_CLOCK,
                15e6,
                Map.of(LimitType.MAX, DiscreteGpu.BOOST_MEGAHERTZ * 1e6),
                () -> gpu.clockMegahertz() * 1e6);
        gpu(
                "gpu-discrete.utilization",
                Metric.GPU_UTILIZATION,
                0.01,
                Map.of(),
                () -> rounded(Math.min(1, gpu.utilization() > 0.9 ? 1 : gpu.utilization()), 100));
        flag("heat", Cause.HEAT, () -> gpu.hot() ? 1 : 0);
        flag("power-brake", Cause.POWER_BRAKE, () -> braked ? 1 : 0);
        flag("hardware-slowdown", Cause.HARDWARE_SLOWDOWN, () -> 0);
        flag("power-cap", Cause.POWER_CAP, () -> gpu.capped() ? 1 : 0);
        timer("heat", Cause.HEAT, gpu::hotSeconds);
        timer("power-brake", Cause.POWER_BRAKE, () -> brakedSeconds);
        timer("power-cap", Cause.POWER_CAP, gpu::cappedSeconds);
    }

    private void gpu(String id, Metric metric, double resolution, Map<LimitType, Double> limits, DoubleSupplier value) {
        lines.add(new Line(
                Channel.of(id, metric, Role.GPU_DISCRETE, GPU)
                        .withComponent(GPU_DEVICE, "Corvid G7 150W")
                        .withQuality(resolution, Double.NaN)
                        .withLimits(limits),
                value));
    }

    private void flag(String cause, Cause why, DoubleSupplier value) {
        lines.add(new Line(
                Channel.of("gpu-discrete.throttle." + cause + ".active", Metric.THROTTLE_ACTIVE, Role.GPU_DISCRETE, GPU)
                        .withComponent(GPU_DEVICE, "")
                        .withCause(why),
                value));
    }

    private void timer(String cause, Cause why, DoubleSupplier seconds) {
        lines.add(new Line(
                Channel.of("gpu-discrete.throttle." + cause + ".time", Metric.THROTTLE_TIME, Role.GPU_DISCRETE, GPU)
                        .withComponent(GPU_DEVICE, "")
                        .withCause(why)
                        .withQuality(0.001, Double.NaN),
                () -> rounded(seconds.getAsDouble(), 1000)));
    }

    private void processor(Laptop laptop) {
        Processor cpu = laptop.cpu();
        ThermalNetwork heat = laptop.heat();
        Quantiser temperature = new Quantiser(1, 0);
        lines.add(new Line(
                Channel.of(CPU_TEMPERATURE, Metric.TEMPERATURE, Role.CPU, DROPOUT_SOURCE)
                        .withComponent("platform/coretemp.0", "Package id 0")
                        .withQuality(1, Double.NaN)
                        .withLimits(Map.of(LimitType.THROTTLED, Processor.THROTTLED_CELSIUS)),
                () -> temperature.read(heat.celsius(Laptop.CPU_DIE) + 0.6 * random.nextGaussian())));
        lines.add(new Line(
                Channel.of("cpu.package.energy", Metric.ENERGY, Role.CPU, "powercap")
                        .withComponent("intel-rapl:0", "package-0")
                        .withQuality(0.001, Double.NaN),
                () -> rounded(cpu.joules(), 1000)));
        lines.add(new Line(
                Channel.of("cpu.clock.mean", Metric.CPU_CLOCK, Role.CPU, "cpufreq")
                        .withQuality(1e6, Double.NaN)
                        .withLimits(Map.of(LimitType.MAX, Processor.MOST_GIGAHERTZ * 1e9)),
                () -> Math.rint(cpu.meanGigahertz() * 1000 + 20 * random.nextGaussian()) * 1e6));
        lines.add(new Line(
                Channel.of("cpu.utilization", Metric.CPU_UTILIZATION, Role.CPU, "proc/stat"),
                () -> rounded(cpu.busy(), 1000)));
        lines.add(new Line(
                Channel.of("cpu.package.throttle.count", Metric.THROTTLE_COUNT, Role.CPU, "cpu/thermal_throttle")
                        .withCause(Cause.HEAT)
                        .withQuality(1, Double.NaN),
                cpu::hotEpisodes));
    }

    private void rest(Laptop laptop) {
        PowerSupply supply = laptop.supply();
        Quantiser batteryTemperature = new Quantiser(10, 0);
        lines.add(new Line(
                Channel.of("fan.cpu.speed", Metric.FAN_SPEED, Role.FAN, "hwmon/fans"),
                () -> rpm(laptop.cpuFan().rpm())));
        lines.add(new Line(
                Channel.of("fan.gpu.speed", Metric.FAN_SPEED, Role.FAN, "hwmon/fans"),
                () -> rpm(laptop.gpuFan().rpm())));
        lines.add(new Line(
                Channel.of(ADAPTER, Metric.ADAPTER_ONLINE, Role.ADAPTER, "power_supply/adapter"),
                () -> supply.online() ? 1 : 0));
        lines.add(new Line(
                Channel.of(CHARGE, Metric.BATTERY_CHARGE, Role.BATTERY, "power_supply/bat0")
                        .withQuality(0.001, Double.NaN),
                () -> rounded(supply.charge(), 1000)));
        lines.add(new Line(
                Channel.of("battery.bat0.power", Metric.BATTERY_POWER, Role.BATTERY, "power_supply/bat0")
                        .withQuality(0.01, Double.NaN),
                () -> rounded(supply.batteryWatts(), 100)));
        lines.add(new Line(
                Channel.of("battery.bat0.temperature", Metric.TEMPERATURE, Role.BATTERY, "power_supply/bat0")
                        .withQuality(0.1, Double.NaN),
                () -> batteryTemperature.read(laptop.heat().celsius(Laptop.BATTERY))));
    }

    private double rpm(double speed) {
        return speed < 100 ? 0 : 10 * Math.rint((speed + 12 * random.nextGaussian()) / 10);
    }

    private static double rounded(double value, double stepsPerUnit) {
        return Math.rint(value * stepsPerUnit) / stepsPerUnit;
    }

    /** From now on the GPU's temperature reads this, whatever happens. */
    void stickGpuTemperature(double celsius) {
        stuckGpuCelsius = celsius;
    }

    /** From now on the power reading is this many times what flows; the energy counter is right. */
    void misreadPower(double factor) {
        powerFactor = factor;
    }

    /** Whether the power brake pulls during this step. */
    void powerBrake(boolean pulls, double seconds) {
        braked = pulls;
        brakedSeconds += pulls ? seconds : 0;
    }

    void memoryErrors(double count) {
        memoryErrors = count;
    }

    List<Channel> channels() {
        return lines.stream().map(Line::channel).toList();
    }

    /** Reads all sensors; those of {@code silentSource} give NaN. */
    double[] read(String silentSource) {
        double[] values = new double[lines.size()];
        for (int i = 0; i < values.length; i++) {
            Line line = lines.get(i);
            values[i] = line.channel.source().equals(silentSource) ? Double.NaN : line.value.getAsDouble();
        }
        return values;
    }
}

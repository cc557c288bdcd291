// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

/**
 * A kind of quantity. Names beginning {@code hw.} are those of the OpenTelemetry hardware semantic conventions
 * (1.44.0, status Development); names beginning {@code lw.} are ours, for what the conventions lack. Units are UCUM.
 *
 * <p>A newer agent may write metrics that this class does not list; readers keep them.
 *
 * @param name for example {@code hw.temperature}
 * @param unit UCUM, for example {@code Cel}
 */
public record Metric(String name, String unit, ChannelKind kind) {
    public static final Metric TEMPERATURE = gauge("hw.temperature", "Cel");
    public static final Metric POWER = gauge("hw.power", "W");
    /** The power limit that is enforced at this moment; on a laptop it moves. */
    public static final Metric POWER_LIMIT = gauge("lw.power.limit", "W");

    public static final Metric ENERGY = counter("hw.energy", "J");
    /** The highest reading of the device's own sample buffer since it was last asked. */
    public static final Metric POWER_HIGHEST = gauge("lw.power.highest", "W");
    /** The lowest reading of the device's own sample buffer since it was last asked. */
    public static final Metric POWER_LOWEST = gauge("lw.power.lowest", "W");
    /** Share of full speed that a fan was told to run at, where that is all that can be read. */
    public static final Metric FAN_SPEED_RATIO = gauge("hw.fan.speed_ratio", "1");

    public static final Metric FAN_SPEED = gauge("hw.fan.speed", "rpm");
    public static final Metric CPU_CLOCK = gauge("hw.cpu.speed", "Hz");
    public static final Metric GPU_CLOCK = gauge("lw.gpu.speed", "Hz");
    public static final Metric GPU_MEMORY_CLOCK = gauge("lw.gpu.memory.speed", "Hz");
    public static final Metric GPU_UTILIZATION = gauge("hw.gpu.utilization", "1");
    public static final Metric GPU_MEMORY_USAGE = gauge("hw.gpu.memory.usage", "By");
    /** The device's performance state: 0 is the fastest. */
    public static final Metric PERFORMANCE_STATE = gauge("lw.gpu.performance_state", "1");
    /** 1 while the device has power, 0 while the kernel has put it to sleep; reading it does not wake it. */
    public static final Metric DEVICE_AWAKE = gauge("lw.device.awake", "1");

    public static final Metric PCIE_GENERATION = gauge("lw.pcie.generation", "1");
    public static final Metric PCIE_WIDTH = gauge("lw.pcie.width", "1");
    /** Packets that had to be sent again over PCI Express. */
    public static final Metric PCIE_REPLAYS = counter("lw.pcie.replays", "{event}");

    public static final Metric CPU_UTILIZATION = gauge("lw.cpu.utilization", "1");
    public static final Metric VOLTAGE = gauge("hw.voltage", "V");
    public static final Metric BATTERY_CHARGE = gauge("hw.battery.charge", "1");
    /** Below this charge the firmware begins to charge the battery. */
    public static final Metric BATTERY_CHARGE_START = gauge("lw.battery.charge.start", "1");
    /** At this charge the firmware ends charging. */
    public static final Metric BATTERY_CHARGE_END = gauge("lw.battery.charge.end", "1");
    /** What the battery says of itself: 1 charging, −1 discharging, 2 full, 0 neither. */
    public static final Metric BATTERY_STATE = gauge("lw.battery.state", "1");
    /** Positive while charging, negative while discharging. */
    public static final Metric BATTERY_POWER = gauge("lw.battery.power", "W");
    /** 1 while the adapter feeds the machine, else 0. */
    public static final Metric ADAPTER_ONLINE = gauge("lw.adapter.online", "1");
    /** Times a device began to hold itself back; the channel's cause says why. */
    public static final Metric THROTTLE_COUNT = counter("lw.throttle.count", "{event}");
    /** Time a device held itself back; the channel's cause says why. */
    public static final Metric THROTTLE_TIME = counter("lw.throttle.time", "s");
    /** 1 while a device holds itself back, else 0; the channel's cause says why. */
    public static final Metric THROTTLE_ACTIVE = gauge("lw.throttle.active", "1");
    /** Work done by our load and found right; the load's document says what one unit is. */
    public static final Metric WORK_VERIFIED = counter("lw.work.verified", "{unit}");
    /** Work done by our load and found wrong. Planted errors are not counted. */
    public static final Metric WORK_ERRORS = counter("lw.work.errors", "{error}");
    /** Errors the platform itself reports and could correct (machine check, bus, memory). */
    public static final Metric CORRECTED_ERRORS = counter("lw.errors.corrected", "{error}");
    /** Errors the platform itself reports and could not correct (machine check, bus, memory). */
    public static final Metric HARDWARE_ERRORS = counter("hw.errors", "{error}");
    /** How late a sample was taken. */
    public static final Metric SAMPLE_LATENESS = gauge("lw.sample.lateness", "s");

    private static Metric gauge(String name, String unit) {
        return new Metric(name, unit, ChannelKind.GAUGE);
    }

    private static Metric counter(String name, String unit) {
        return new Metric(name, unit, ChannelKind.COUNTER);
    }
}

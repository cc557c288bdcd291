// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.fuzz;

import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.io.UncheckedIOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;

/** Short logs of a machine that has everything, judged by every criterion: what a mutation begins with. */
final class Seeds {
    private static final int SUFFIX = 76;

    /** By log, what stands before the chain, line by line. */
    static final List<List<String>> LOGS = logs();

    private Seeds() {}

    private static LogBuilder machine() {
        LogBuilder log = LogBuilder.laptop().period(5);
        for (Channel c : List.of(
                Channel.of("gpu.clock", Metric.GPU_CLOCK, Role.GPU_DISCRETE, "gpu"),
                Channel.of("gpu.busy", Metric.GPU_UTILIZATION, Role.GPU_DISCRETE, "gpu"),
                Channel.of("gpu.errors", Metric.HARDWARE_ERRORS, Role.GPU_DISCRETE, "gpu"),
                Channel.of("gpu.awake", Metric.DEVICE_AWAKE, Role.GPU_DISCRETE, "gpu"),
                Channel.of("fan.1", Metric.FAN_SPEED, Role.FAN, "hwmon/fan"),
                Channel.of("battery.charge", Metric.BATTERY_CHARGE, Role.BATTERY, "power_supply"),
                Channel.of("battery.state", Metric.BATTERY_STATE, Role.BATTERY, "power_supply"),
                Channel.of("cpu.power", Metric.POWER, Role.CPU, "powercap"),
                Channel.of("cpu.corrected", Metric.CORRECTED_ERRORS, Role.CPU, "mce"),
                Channel.of("cpu.throttle", Metric.THROTTLE_COUNT, Role.CPU, "cpu")
                        .withCause(Cause.HEAT))) {
            double level = c.metric().name().equals(Metric.GPU_CLOCK.name())
                    ? 1.8e9
                    : c.metric().name().equals(Metric.FAN_SPEED.name()) ? 2400 : 0.9;
            boolean counter = c.id().endsWith("errors") || c.id().endsWith("corrected") || c.id().endsWith("throttle");
            log.channel(c, m -> counter ? 0 : level);
        }
        for (Criterion c : Criterion.values()) {
            // What is mandatory must be possible, and not every one of these stages has what every criterion needs.
            log.criterion(c.word(), "mandatory: no");
        }
        return log.criterion("evidence", "mandatory: yes")
                .criterion("interruptions", "mandatory: yes")
                .criterion("soak-duration", "mandatory: yes, at-least: 30 s")
                .criterion("throttle", "mandatory: yes")
                .criterion("temperature-ceiling", "mandatory: yes, block: 20 s")
                .criterion("temperature-settled", "mandatory: no, window: 60 s")
                .criterion("clock-held", "mandatory: no, window: 30 s");
    }

    private static List<List<String>> logs() {
        String edges = "0,500000,1000000,1500000,2000000,2500000";
        List<LogBuilder> logs = List.of(
                machine().idle("idle", 15).soak("soak", 110).jobSheet(sheet()),
                machine()
                        .idle("idle", 10)
                        .soak("soak", 70)
                        .restarts(45, "boot-1")
                        .evidence(Map.of(
                                "crash-store",
                                "empty",
                                "system-log",
                                "none",
                                "watchdog",
                                "reset",
                                "off-seconds",
                                "40")),
                machine().idle("idle", 10).soak("soak", 80).resumes(40, "boot-1"),
                machine()
                        .idle("idle", 10)
                        .stage(
                                "steps",
                                60,
                                "loads: [gpu-steps], gpu: gpu-discrete, proves: gpu-discrete",
                                Role.GPU_DISCRETE)
                        .event(
                                25,
                                EventKind.LOAD_EDGES,
                                LogBuilder.facts(
                                        "load", "gpu-steps", "period", 1.0, "duty", 0.5, "since", 0.0, "edges", edges))
                        .event(
                                40,
                                EventKind.LOAD_LEVEL,
                                LogBuilder.facts("load", "gpu-steps", "level", 0.5, "seconds", 0.1)),
                machine()
                        .asking("power-off", "cold", 45)
                        .asking("sleep", "woken", 40)
                        .asking("replug", "fed", 40),
                machine()
                        .idle("idle", 10)
                        .soak("soak", 50)
                        .event(20, EventKind.KERNEL_MESSAGE, LogBuilder.facts("text", "x", "fault", "gpu-hang"))
                        .event(25, EventKind.ADAPTER_OFF, Map.of())
                        .event(30, EventKind.ADAPTER_ON, Map.of())
                        .event(
                                35,
                                EventKind.DEVICE_LEFT,
                                LogBuilder.facts("role", "input", "device", "keyboard", "id", "1-1"))
                        .event(40, EventKind.COMPUTE_ERROR, LogBuilder.facts("role", "gpu-discrete", "detail", "x"))
                        .stops(45, CloseReason.SAFETY_STOP, "too hot"),
                machine().soak("soak", 60).loops(30, 3),
                machine()
                        .idle("idle", 10)
                        .soak("first", 45)
                        .asking("cool-down", "second", 45)
                        .earlier("ffffffffffffffffffffffffffffffff", "0".repeat(64), "open"));
        try {
            Path folder = Files.createTempDirectory("loadwitness-seeds");
            List<List<String>> contents = new ArrayList<>();
            for (LogBuilder log : logs) {
                Path file = log.write(folder);
                List<String> lines = new ArrayList<>();
                for (String line :
                        Files.readString(file, StandardCharsets.UTF_8).split("\n")) {
                    lines.add(line.substring(0, line.length() - SUFFIX));
                }
                contents.add(List.copyOf(lines));
                Scratch.delete(file.getParent());
            }
            Scratch.delete(folder);
            return List.copyOf(contents);
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    /** A short sheet with most of what one can hold. */
    static String sheet() {
        return """
                reported-fault: Shuts off
                time-between-faults: [12 min, 25 min]
                work-done:
                  - 2026-11-25T15:00+01:00 PU3 replaced
                repaired-rail: graphics core
                rated-graphics-power: 150 W
                adapter-power: 240 W
                wall-meter: {idle: 38 W, soak: 231 W}
                rails:
                  - {name: graphics core, kind: controlled, state: loaded, resistance-before: 80 mOhm, resistance-after: 0.4 Ohm, voltage-after: 0.85 V}
                  - {name: main 5 V, kind: fixed, nominal: 5 V, state: idle, voltage-after: 5.05 V, voltage-uncertainty: 30 mV}
                hand-checks:
                  - {name: keyboard, done: yes}
                  - {name: network, not-applicable: none}
                """;
    }
}

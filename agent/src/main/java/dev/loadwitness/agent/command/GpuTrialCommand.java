// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.command;

import dev.loadwitness.agent.load.LoadFact;
import dev.loadwitness.agent.load.LoadLauncher;
import dev.loadwitness.agent.load.RunningLoad;
import dev.loadwitness.agent.machine.MachineSensors;
import dev.loadwitness.agent.program.Exit;
import dev.loadwitness.agent.program.Version;
import dev.loadwitness.agent.sensor.Readings;
import dev.loadwitness.agent.sensor.SensorBank;
import dev.loadwitness.agent.sensor.Wake;
import dev.loadwitness.agent.work.GpuChoice;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.Word;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import dev.loadwitness.runlog.procedure.LoadKind;
import java.io.IOException;
import java.io.PrintWriter;
import java.time.Duration;
import java.util.Arrays;
import java.util.List;
import java.util.Locale;
import java.util.Optional;
import java.util.concurrent.Callable;
import java.util.function.UnaryOperator;
import java.util.stream.Collectors;
import picocli.CommandLine.Command;
import picocli.CommandLine.Mixin;
import picocli.CommandLine.Model.CommandSpec;
import picocli.CommandLine.Option;
import picocli.CommandLine.ParameterException;
import picocli.CommandLine.Parameters;
import picocli.CommandLine.Spec;

/** For whoever works on the loads: one GPU load alone, through the same worker process that a run uses, and no log. */
@Command(
        name = "gpu-trial",
        hidden = true,
        description = {
            "Runs one GPU load alone and prints once a second what it does. No log, no safety ceilings: stay beside it."
        },
        mixinStandardHelpOptions = true,
        versionProvider = Version.class)
public final class GpuTrialCommand implements Callable<Integer> {
    private static final Duration PATIENCE = Duration.ofMillis(400);

    @Spec
    private CommandSpec spec;

    @Mixin
    private GpuOptions gpus;

    @Parameters(paramLabel = "LOAD", description = "gpu-core, gpu-memory, gpu-mix, gpu-ramp or gpu-steps")
    private String load;

    @Option(names = "--seconds", paramLabel = "N", defaultValue = "30", description = "how long (default 30)")
    private int seconds;

    @Option(
            names = "--role",
            paramLabel = "ROLE",
            defaultValue = "gpu-discrete",
            description = "gpu-discrete or -integrated")
    private String role;

    @Option(
            names = "--memory-share",
            paramLabel = "X",
            defaultValue = "0",
            description = "share of the device's memory that gpu-memory tests, 0 to 0.9 (default: what is usual)")
    private double memoryShare;

    @Option(names = "--plant-at", paramLabel = "N", description = "plant a wrong result after so many seconds")
    private int plantAt = -1;

    @Override
    public Integer call() throws Complaint, InterruptedException, IOException {
        LoadKind kind = Word.find(LoadKind.class, load)
                .filter(LoadKind::needsGpu)
                .orElseThrow(() -> new ParameterException(
                        spec.commandLine(),
                        "there is no GPU load '" + load + "'; say one of "
                                + Arrays.stream(LoadKind.values())
                                        .filter(LoadKind::needsGpu)
                                        .map(LoadKind::word)
                                        .collect(Collectors.joining(", "))));
        Role part = Word.find(Role.class, role)
                .orElseThrow(() -> new ParameterException(spec.commandLine(), "there is no role '" + role + "'"));
        LoadLauncher launcher = LoadLauncher.ofThisProgram();
        LoadLauncher.Listing listing = launcher.devices();
        PrintWriter out = spec.commandLine().getOut();
        out.println("devices: " + GpuChoice.list(listing.devices())
                + (listing.problem().isEmpty() ? "" : "; " + listing.problem()));
        GpuChoice choice = GpuChoice.of(part, listing.devices(), gpus.wishes())
                .orElseThrow(() -> new Complaint(
                        Sysexits.UNAVAILABLE,
                        "OpenCL offers no " + part.word() + "; name a device with --opencl-device"));
        out.println("chosen: " + choice.facts());
        try (SensorBank bank = new SensorBank(
                        MachineSensors.discover(Wake.WHEN_ALLOWED, UnaryOperator.identity())
                                .sources(),
                        PATIENCE);
                RunningLoad running = launcher.gpu(kind, choice.device(), memoryShare)) {
            bank.allowWaking(true);
            watch(out, bank, running, choice);
        }
        return Exit.COMPLETED;
    }

    private void watch(PrintWriter out, SensorBank bank, RunningLoad running, GpuChoice choice)
            throws InterruptedException {
        long begin = System.nanoTime();
        long before = 0;
        String note = "";
        boolean caught = false;
        for (int tenth = 0; tenth < 10 * seconds; tenth++) {
            long wait = begin + tenth * 100_000_000L - System.nanoTime();
            Thread.sleep(Math.max(0, wait / 1_000_000));
            double at = (System.nanoTime() - begin) / 1e9;
            List<LoadFact> facts = running.check(System.nanoTime());
            facts.forEach(f -> out.println(String.format(Locale.ROOT, "%7.2f s  %s", at, f)));
            if (facts.stream().anyMatch(f -> f instanceof LoadFact.Died || f instanceof LoadFact.Lost)) {
                return;
            }
            if (tenth == 10 * plantAt) {
                running.plantFault();
            }
            if (running.plantCaught() && !caught) {
                caught = true;
                out.println(String.format(Locale.ROOT, "%7.2f s  planted fault caught", at));
            }
            if (!running.note().equals(note) && !running.note().contains("GFLOP/s")) {
                note = running.note();
                out.println(String.format(Locale.ROOT, "%7.2f s  %s", at, note));
            }
            if (tenth % 10 == 9) {
                String power = power(bank, running, choice)
                        .map(w -> String.format(Locale.ROOT, "%.1f W, ", w))
                        .orElse("");
                long now = running.progress().verified();
                out.println(String.format(
                        Locale.ROOT,
                        "%7.2f s  %s, %d units/s, %d errors, %s%s",
                        at,
                        running.isReady() ? "ready" : "preparing",
                        now - before,
                        running.progress().errors(),
                        power,
                        running.note()));
                before = now;
            }
        }
    }

    private static Optional<Double> power(SensorBank bank, RunningLoad running, GpuChoice choice)
            throws InterruptedException {
        Readings reading = bank.take(System.nanoTime());
        Optional<Double> watts = Optional.empty();
        for (int i = 0; i < bank.channels().size(); i++) {
            Channel c = bank.channels().get(i);
            boolean same = choice.device().pciAddress().equals(Optional.of(c.component()));
            if (c.measures(Metric.POWER)
                    && (same || c.role() == choice.role())
                    && !Double.isNaN(reading.values()[i])
                    && (same || watts.isEmpty())) {
                watts = Optional.of(reading.values()[i]);
            }
        }
        watts.ifPresent(running::power);
        return watts;
    }
}

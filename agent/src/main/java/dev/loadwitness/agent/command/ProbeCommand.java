// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.command;

import dev.loadwitness.agent.load.LoadLauncher;
import dev.loadwitness.agent.machine.MachineEvidence;
import dev.loadwitness.agent.machine.MachineFacts;
import dev.loadwitness.agent.machine.MachineSensors;
import dev.loadwitness.agent.place.Home;
import dev.loadwitness.agent.place.LogPlace;
import dev.loadwitness.agent.place.Texts;
import dev.loadwitness.agent.probe.ProbeReport;
import dev.loadwitness.agent.probe.Unjudged;
import dev.loadwitness.agent.probe.WithoutRoot;
import dev.loadwitness.agent.program.Exit;
import dev.loadwitness.agent.program.Version;
import dev.loadwitness.agent.run.Guard;
import dev.loadwitness.agent.sensor.Discovery;
import dev.loadwitness.agent.sensor.Missing;
import dev.loadwitness.agent.sensor.Readings;
import dev.loadwitness.agent.sensor.SensorBank;
import dev.loadwitness.agent.sensor.Wake;
import dev.loadwitness.agent.sensor.common.Inventory;
import dev.loadwitness.agent.work.GpuChoice;
import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.procedure.Procedure;
import java.io.PrintWriter;
import java.nio.file.Path;
import java.time.Duration;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import java.util.Set;
import java.util.concurrent.Callable;
import java.util.function.UnaryOperator;
import picocli.CommandLine.Command;
import picocli.CommandLine.Model.CommandSpec;
import picocli.CommandLine.Option;
import picocli.CommandLine.Spec;

@Command(
        name = "probe",
        description = {
            "Says what this machine offers, what is missing, and which criteria that leaves unjudged.",
            "Asks OpenCL for its devices, which can wake a sleeping GPU. Loads nothing, and leaves nothing behind: it measures",
            "the disk of the later log with a file that it removes."
        },
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        exitCodeListHeading = "%nExit status:%n",
        exitCodeList = {" 0:done", "64:wrong usage", "65:a mistake in the procedure", "66:an input file cannot be read"
        },
        footer = {"", "Example:", "  loadwitness-agent probe --procedure gpu-power-repair"})
public final class ProbeCommand implements Callable<Integer> {
    private static final Duration PATIENCE = Duration.ofSeconds(2);
    private static final Duration BUDGET = Duration.ofSeconds(2);
    private static final Duration USUAL_PERIOD = Duration.ofSeconds(1);
    /** What is asked once a second at most must be due again in the reading that is shown. */
    private static final long APART_MILLIS = 1000;

    @Spec
    private CommandSpec spec;

    @Option(
            names = "--procedure",
            paramLabel = "NAME",
            description = "say which of this procedure's criteria stay unjudged (default: all that there are)")
    private String procedureWord;

    @Option(
            names = "--wake",
            description = "wake a sleeping discrete GPU to see what it offers; without this it is left asleep")
    private boolean wake;

    @Option(names = "--json", description = "print JSON")
    private boolean json;

    @Option(
            names = "--out",
            paramLabel = "DIR",
            description = "folder of a later log, whose disk is measured (default: where 'run' would put it)")
    private Path out;

    @Override
    public Integer call() throws Complaint, InterruptedException {
        Optional<Procedure> procedure = Optional.empty();
        Home home = Home.ofThisProgram();
        if (procedureWord != null) {
            Attachment text = Texts.file(Texts.find(procedureWord, home));
            procedure = Optional.of(Texts.procedure(text));
        }
        Discovery discovery = MachineSensors.discover(wake ? Wake.WHEN_ALLOWED : Wake.NEVER, UnaryOperator.identity());
        Inventory inventory = MachineFacts.take(Set.of());
        List<Missing> missing = new ArrayList<>(discovery.missing());
        missing.addAll(inventory.missing());
        List<Channel> channels;
        double[] values;
        try (SensorBank bank = new SensorBank(discovery.sources(), PATIENCE)) {
            channels = bank.channels();
            bank.allowWaking(wake);
            bank.take(System.nanoTime()); // the first reading of a rate has nothing to compare with
            Thread.sleep(APART_MILLIS);
            Readings reading = bank.take(System.nanoTime());
            values = reading.values();
        }
        LoadLauncher.Listing gpus = LoadLauncher.ofThisProgram().devices();
        procedure.ifPresent(p -> missing.addAll(0, refusals(p, channels, gpus)));
        ProbeReport report = new ProbeReport(
                inventory.facts(),
                gpus,
                channels,
                values,
                missing,
                Unjudged.of(channels, procedure),
                WithoutRoot.of(missing, MachineFacts.refused()),
                MachineEvidence.quality(),
                LogPlace.look(out != null ? out : home.runs(), BUDGET),
                procedure.map(Procedure::samplingPeriod).orElse(USUAL_PERIOD));
        PrintWriter writer = spec.commandLine().getOut();
        writer.print(json ? report.json() : report.text());
        writer.flush();
        return Exit.COMPLETED;
    }

    /** What makes 'run' refuse that procedure here, or leave stages of it out. */
    private List<Missing> refusals(Procedure procedure, List<Channel> channels, LoadLauncher.Listing gpus) {
        List<Missing> missing = new ArrayList<>();
        for (Role role : List.of(Role.GPU_DISCRETE, Role.GPU_INTEGRATED)) {
            boolean asked = procedure.stages().stream().anyMatch(s -> s.gpu().equals(Optional.of(role)));
            if (asked && !isThere(gpus, role)) {
                missing.add(new Missing(
                        role.word() + " for loads",
                        "OpenCL offers none",
                        (procedure.requiredDevices().contains(role)
                                        ? "'run' refuses " + procedure.name()
                                        : "'run' leaves out its stages of " + procedure.name())
                                + "; install the GPU's driver with its OpenCL part"));
            }
        }
        Procedure there = procedure.withStages(procedure.stages().stream()
                .filter(s -> !s.ifPresent() || s.gpu().stream().allMatch(role -> isThere(gpus, role)))
                .toList());
        Guard.unwatched(there, channels)
                .forEach((role, stage) -> missing.add(new Missing(
                        role.word() + " temperature",
                        "no sensor of this machine watches it",
                        "'run' refuses " + procedure.name() + ", whose stage " + stage.id()
                                + " loads it: a load that nobody watches is not put on"
                                + (role == Role.GPU_DISCRETE && !wake
                                        ? ". A GPU that sleeps now may have one: probe --wake tells"
                                        : ""))));
        return missing;
    }

    private static boolean isThere(LoadLauncher.Listing gpus, Role role) {
        return gpus.devices().stream().anyMatch(device -> GpuChoice.role(device).equals(Optional.of(role)));
    }
}

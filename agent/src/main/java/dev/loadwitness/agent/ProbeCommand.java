// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import dev.loadwitness.agent.load.LoadLauncher;
import dev.loadwitness.agent.sensor.Discovery;
import dev.loadwitness.agent.sensor.Missing;
import dev.loadwitness.agent.sensor.Reading;
import dev.loadwitness.agent.sensor.SensorBank;
import dev.loadwitness.agent.sensor.common.Inventory;
import dev.loadwitness.agent.sensor.linux.LinuxFacts;
import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.procedure.Procedure;
import java.io.PrintWriter;
import java.nio.file.Path;
import java.time.Duration;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import java.util.Set;
import java.util.concurrent.Callable;
import picocli.CommandLine.Command;
import picocli.CommandLine.Model.CommandSpec;
import picocli.CommandLine.Option;
import picocli.CommandLine.Spec;

@Command(
        name = "probe",
        description = {
            "Says what this machine offers, what is missing, and which criteria that leaves unjudged.",
            "Asks OpenCL for its devices, which wakes a sleeping GPU. Loads nothing and writes nothing but a few bytes to measure the log's disk."
        },
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        exitCodeListHeading = "%nExit status:%n",
        exitCodeList = {" 0:done", "64:wrong usage", "65:a mistake in the procedure", "66:an input file cannot be read"
        },
        footer = {"", "Example:", "  loadwitness-agent probe --procedure thresholds/gpu-power-repair.yaml"})
final class ProbeCommand implements Callable<Integer> {
    private static final Duration PATIENCE = Duration.ofSeconds(2);

    @Spec
    private CommandSpec spec;

    @Option(
            names = "--procedure",
            paramLabel = "FILE",
            description = "say which of this procedure's criteria stay unjudged (default: all that there are)")
    private Path procedureFile;

    @Option(names = "--json", description = "print JSON")
    private boolean json;

    @Option(
            names = "--out",
            paramLabel = "DIR",
            description = "folder of a later log, whose disk is measured (default: the system's temporary folder)")
    private Path out = Path.of(System.getProperty("java.io.tmpdir"));

    @Override
    public Integer call() throws Complaint, InterruptedException {
        Optional<Procedure> procedure = Optional.empty();
        if (procedureFile != null) {
            Attachment text = Texts.file(procedureFile);
            procedure = Optional.of(Texts.procedure(text));
        }
        Discovery discovery = MachineSensors.discover();
        Inventory inventory = Inventory.take(Set.of(), LinuxFacts.of(Path.of("/")));
        List<Missing> missing = new ArrayList<>(discovery.missing());
        missing.addAll(inventory.missing());
        List<Channel> channels;
        double[] values;
        try (SensorBank bank = new SensorBank(discovery.sources(), PATIENCE)) {
            channels = bank.channels();
            bank.take(System.nanoTime()); // the first reading of a rate has nothing to compare with
            Thread.sleep(200);
            Reading reading = bank.take(System.nanoTime());
            values = reading.values();
        }
        ProbeReport report = new ProbeReport(
                inventory.facts(),
                LoadLauncher.ofThisProgram().devices(),
                channels,
                values,
                missing,
                Unjudged.of(channels, procedure),
                DiskSpeed.measure(out),
                out);
        PrintWriter writer = spec.commandLine().getOut();
        writer.print(json ? report.json() : report.text());
        writer.flush();
        return Exit.COMPLETED;
    }
}

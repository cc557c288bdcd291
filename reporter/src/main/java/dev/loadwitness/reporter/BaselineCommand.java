// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.reporter.baseline.Band;
import dev.loadwitness.reporter.baseline.BaselineEntry;
import dev.loadwitness.reporter.baseline.BaselineStore;
import dev.loadwitness.reporter.baseline.UnfitRunException;
import dev.loadwitness.reporter.text.BandText;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import dev.loadwitness.runlog.command.Terminal;
import dev.loadwitness.runlog.disk.DiskException;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import picocli.CommandLine.Command;
import picocli.CommandLine.Model.CommandSpec;
import picocli.CommandLine.Option;
import picocli.CommandLine.ParameterException;
import picocli.CommandLine.Parameters;
import picocli.CommandLine.Spec;

@Command(
        name = "baseline",
        description = "Keeps what sound machines of one model show, and says whether another one is as they are.",
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        synopsisSubcommandLabel = "COMMAND",
        footer = {
            "",
            "Examples:",
            "  loadwitness-reporter baseline add runs/FBR-2026-0142-2/run.jsonl --store bench.jsonl",
            "  loadwitness-reporter baseline check runs/FBR-2026-0142-2/run.jsonl --store bench.jsonl"
        })
final class BaselineCommand implements Runnable {
    @Spec
    private CommandSpec spec;

    @Override
    public void run() {
        throw new ParameterException(spec.commandLine(), "say add or check");
    }

    @Command(
            name = "add",
            description = "Adds a run to the store, once, whatever its verdict.",
            mixinStandardHelpOptions = true,
            versionProvider = Version.class,
            exitCodeListHeading = "%nExit status:%n",
            exitCodeList = {
                " 0:added, or already there",
                "64:wrong usage",
                "65:the log is damaged, or does not tell machine and model, or shows no figure",
                "66:the log cannot be read",
                "70:a defect of this program, or not enough memory for Java: nothing was decided",
                "74:the store cannot be read or written"
            },
            footer = {
                "",
                "Example:",
                "  loadwitness-reporter baseline add runs/FBR-2026-0142-2/run.jsonl --store bench.jsonl"
            })
    int add(
            @Parameters(paramLabel = "LOG", description = "log of a machine known to be sound") Path log,
            @Option(
                            names = "--store",
                            required = true,
                            paramLabel = "FILE",
                            description = "the store; made if there is none")
                    Path store)
            throws Complaint {
        BaselineEntry entry = entry(log);
        try {
            BaselineStore.Added added = new BaselineStore(store).add(entry);
            tell(store, added.contents());
            long machines = added.contents().entries().stream()
                    .filter(e -> e.model().equals(entry.model()))
                    .map(BaselineEntry::machine)
                    .distinct()
                    .count();
            print((added.added() ? "Added" : "Already there") + ": run " + entry.runId() + ". The store has runs of "
                    + machines + (machines == 1 ? " machine" : " machines") + " of this model; a band needs "
                    + Band.LEAST_MACHINES + " that ran one procedure.\n");
            return 0;
        } catch (DiskException e) {
            throw Complaint.of(Sysexits.IO, e);
        } catch (IOException e) {
            throw new Complaint(Sysexits.IO, store + " cannot be read or written: " + e.getMessage());
        }
    }

    @Command(
            name = "check",
            description = "Says whether a run lies within the bands of the other machines of its model in the store.",
            mixinStandardHelpOptions = true,
            versionProvider = Version.class,
            exitCodeListHeading = "%nExit status:%n",
            exitCodeList = {
                " 0:within every band",
                " 1:outside at least one, whatever its verdict",
                " 2:no band: too few machines",
                "64:wrong usage",
                "65:the log is damaged, or does not tell machine and model, or shows no figure",
                "66:the log or the store cannot be read",
                "70:a defect of this program, or not enough memory for Java: nothing was decided"
            },
            footer = {
                "",
                "Example:",
                "  loadwitness-reporter baseline check runs/FBR-2026-0142-2/run.jsonl --store bench.jsonl"
            })
    int check(
            @Parameters(paramLabel = "LOG", description = "the run") Path log,
            @Option(names = "--store", required = true, paramLabel = "FILE", description = "the store") Path store)
            throws Complaint {
        if (!Files.exists(store)) {
            throw new Complaint(Sysexits.NO_INPUT, store + ": no such file; `baseline add` makes one");
        }
        BaselineEntry entry = entry(log);
        try {
            BaselineStore.Contents contents = new BaselineStore(store).read();
            tell(store, contents);
            Band band = Band.of(entry, contents.entries());
            print(BandText.render(band, Terminal.width()));
            return band.judged() == 0 ? Exit.INCONCLUSIVE : band.outside().isEmpty() ? Exit.PASS : Exit.FAIL;
        } catch (DiskException e) {
            throw Complaint.of(e);
        } catch (IOException e) {
            throw new Complaint(Sysexits.NO_INPUT, store + " cannot be read: " + e.getMessage());
        }
    }

    private BaselineEntry entry(Path log) throws Complaint {
        WholeRun run = WholeRun.read(log, spec.commandLine().getErr());
        try {
            return BaselineEntry.of(
                    run.run(),
                    run.judgement().verdict().outcome().word(),
                    run.judgement().verdict().methodVersion());
        } catch (UnfitRunException e) {
            throw Complaint.of(Sysexits.DATA, e);
        }
    }

    private void tell(Path store, BaselineStore.Contents contents) {
        contents.faults().forEach(f -> spec.commandLine().getErr().println(store + ": " + f));
    }

    private void print(String text) {
        spec.commandLine().getOut().print(text);
        spec.commandLine().getOut().flush();
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import dev.loadwitness.agent.command.CleanCommand;
import dev.loadwitness.agent.command.GpuTrialCommand;
import dev.loadwitness.agent.command.ObserveCommand;
import dev.loadwitness.agent.command.ProbeCommand;
import dev.loadwitness.agent.command.ResumeCommand;
import dev.loadwitness.agent.command.RunCommand;
import dev.loadwitness.agent.process.MemoryFolder;
import dev.loadwitness.agent.program.Version;
import dev.loadwitness.runlog.command.Program;
import dev.loadwitness.runlog.command.Sysexits;
import java.io.PrintWriter;
import picocli.CommandLine;
import picocli.CommandLine.Command;

/** Entry point of the agent: reads arguments, wires the parts, owns exit statuses. */
@Command(
        name = "loadwitness-agent",
        description = "Burns a repaired machine in and keeps a log that survives its death.",
        subcommands = {
            ProbeCommand.class,
            RunCommand.class,
            ResumeCommand.class,
            ObserveCommand.class,
            CleanCommand.class,
            GpuTrialCommand.class
        },
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        synopsisSubcommandLabel = "COMMAND",
        footer = {"", "Example:", "  loadwitness-agent run --procedure quick-check --ticket FBR-2026-0142"})
public final class Main implements Runnable {
    private static final Program AGENT = new Program("agent");

    @CommandLine.Spec
    private CommandLine.Model.CommandSpec spec;

    private Main() {}

    public static void main(String[] args) {
        if (!System.getProperty("os.name").equals("Linux")) {
            System.err.println("loadwitness-agent: Linux only; start the machine from a stick with a live Linux");
            System.exit(Sysexits.UNAVAILABLE);
        }
        Program.settle();
        // Before anything that could end this program: nothing of it stays in the machine's memory.
        MemoryFolder.removeAtExit();
        System.exit(run(args));
    }

    public static int run(String... args) {
        return AGENT.run(Main::commands, args);
    }

    static CommandLine commands(PrintWriter err) {
        return AGENT.commands(new Main(), err);
    }

    @Override
    public void run() {
        throw new CommandLine.ParameterException(spec.commandLine(), "say which command");
    }
}

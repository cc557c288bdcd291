// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.runlog.command.Program;
import java.io.PrintWriter;
import picocli.CommandLine;
import picocli.CommandLine.Command;

/** Entry point of the reporter: reads arguments, wires the parts, owns exit statuses. */
@Command(
        name = "loadwitness-reporter",
        description = "Judges a burn-in run log and writes the signed report.",
        subcommands = {
            JudgeCommand.class,
            ReviewCommand.class,
            CertifyCommand.class,
            VerifyCommand.class,
            PlanCommand.class,
            JobCommand.class,
            CompareCommand.class,
            BaselineCommand.class,
            SigningKeyCommand.class
        },
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        synopsisSubcommandLabel = "COMMAND",
        footer = {"", "Example:", "  loadwitness-reporter judge runs/FBR-2026-0142-1/run.jsonl"})
public final class Main implements Runnable {
    static final Program REPORTER = new Program("reporter");

    @CommandLine.Spec
    private CommandLine.Model.CommandSpec spec;

    private Main() {}

    public static void main(String[] args) {
        Program.settle();
        System.exit(run(args));
    }

    static int run(String... args) {
        return REPORTER.run(Main::commands, args);
    }

    static CommandLine commands() {
        return commands(Program.writer(System.err));
    }

    static CommandLine commands(PrintWriter err) {
        return REPORTER.commands(new Main(), err);
    }

    @Override
    public void run() {
        throw new CommandLine.ParameterException(spec.commandLine(), "say which command");
    }
}

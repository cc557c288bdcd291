// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.runlog.LogLimits;
import dev.loadwitness.runlog.Shown;
import dev.loadwitness.runlog.yaml.Nearest;
import java.io.FileDescriptor;
import java.io.FileOutputStream;
import java.io.OutputStreamWriter;
import java.io.PrintStream;
import java.io.PrintWriter;
import java.nio.charset.StandardCharsets;
import java.util.Locale;
import java.util.function.Function;
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
    /** Wide enough for the examples, which people copy. */
    private static final int HELP_WIDTH = 110;

    @CommandLine.Spec
    private CommandLine.Model.CommandSpec spec;

    private Main() {}

    public static void main(String[] args) {
        // The same words and bytes everywhere; one library writes numbers in the default locale's digits.
        Locale.setDefault(Locale.ROOT);
        System.setOut(new PrintStream(new FileOutputStream(FileDescriptor.out), true, StandardCharsets.UTF_8));
        System.setErr(new PrintStream(new FileOutputStream(FileDescriptor.err), true, StandardCharsets.UTF_8));
        System.exit(run(args));
    }

    static int run(String... args) {
        return run(Main::commands, args);
    }

    /** @param commands made here, so that making them cannot end otherwise than running them */
    static int run(Function<PrintWriter, CommandLine> commands, String... args) {
        PrintWriter err = writer(System.err);
        try {
            return commands.apply(err).execute(args);
        } catch (OutOfMemoryError e) {
            err.println("Out of memory: this takes more than the heap of "
                    + (Runtime.getRuntime().maxMemory() >> 20) + " MiB that Java was given, and "
                    + (LogLimits.HEAP_BYTES >> 20) + " MiB should do for everything ('java -Xmx"
                    + (LogLimits.HEAP_BYTES >> 20)
                    + "m -jar ...'). If it had those, it is a defect of the reporter; please"
                    + " report it. Nothing was decided.");
            return Exit.SOFTWARE;
        } catch (Throwable e) { // whatever it is: Java itself would end with 1, which means something else here
            defect(err, e);
            return Exit.SOFTWARE;
        }
    }

    static CommandLine commands() {
        return commands(writer(System.err));
    }

    static CommandLine commands(PrintWriter err) {
        return new CommandLine(new Main())
                .setUsageHelpWidth(HELP_WIDTH)
                .setColorScheme(CommandLine.Help.defaultColorScheme(CommandLine.Help.Ansi.OFF))
                .setOut(writer(System.out))
                .setErr(err)
                .setExitCodeExceptionMapper(Main::exitStatus)
                .setExecutionExceptionHandler(Main::explain)
                .setParameterExceptionHandler((e, arguments) -> {
                    e.getCommandLine().getErr().println(told(e));
                    e.getCommandLine()
                            .getErr()
                            .println("Try '"
                                    + e.getCommandLine().getCommandSpec().qualifiedName() + " --help'.");
                    return Exit.USAGE;
                });
    }

    /** What is wrong, and the command or option that a mistyped one was probably meant to be. */
    private static String told(CommandLine.ParameterException e) {
        if (!(e instanceof CommandLine.UnmatchedArgumentException unmatched)) {
            return e.getMessage();
        }
        String given = unmatched.getUnmatched().get(0);
        CommandLine.Model.CommandSpec spec = e.getCommandLine().getCommandSpec();
        boolean command = !given.startsWith("-") && !spec.subcommands().isEmpty();
        return (command ? "unknown command '" + given + "'" : e.getMessage())
                + Nearest.of(
                                given,
                                command
                                        ? spec.subcommands().keySet()
                                        : spec.optionsMap().keySet())
                        .map(word -> "; did you mean '" + word + "'?")
                        .orElse("");
    }

    /** In UTF-8 whatever the locale says: a bench computer without one still shows degrees. Nothing steers a terminal. */
    private static PrintWriter writer(PrintStream stream) {
        return new PrintWriter(Shown.writer(new OutputStreamWriter(stream, StandardCharsets.UTF_8)), true);
    }

    @Override
    public void run() {
        throw new CommandLine.ParameterException(spec.commandLine(), "say which command");
    }

    private static int exitStatus(Throwable e) {
        return e instanceof Complaint complaint ? complaint.status() : Exit.SOFTWARE;
    }

    /** A user's mistake is a message and a status; only a defect of ours shows its stack. */
    private static int explain(Exception e, CommandLine command, CommandLine.ParseResult parsed) {
        if (e instanceof Complaint complaint) {
            command.getErr().println(complaint.getMessage());
            return complaint.status();
        }
        defect(command.getErr(), e);
        return Exit.SOFTWARE;
    }

    private static void defect(PrintWriter err, Throwable e) {
        err.println("This is a defect of the reporter; please report it with the text below. Nothing was decided.");
        e.printStackTrace(err);
    }
}

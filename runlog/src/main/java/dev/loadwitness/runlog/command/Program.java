// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.command;

import dev.loadwitness.runlog.LogLimits;
import dev.loadwitness.runlog.Shown;
import dev.loadwitness.runlog.yaml.Nearest;
import java.io.FileDescriptor;
import java.io.FileOutputStream;
import java.io.OutputStreamWriter;
import java.io.PrintStream;
import java.io.PrintWriter;
import java.nio.charset.StandardCharsets;
import java.util.Collection;
import java.util.Locale;
import java.util.function.Function;
import picocli.CommandLine;

/**
 * One of the two programs, around its commands.
 *
 * @param name as people call it: {@code agent}
 */
public record Program(String name) {
    /** Wide enough for the examples, which people copy. */
    private static final int HELP_WIDTH = 110;

    /** The same words and bytes everywhere; one library writes numbers in the default locale's digits. */
    public static void settle() {
        Locale.setDefault(Locale.ROOT);
        System.setOut(new PrintStream(new FileOutputStream(FileDescriptor.out), true, StandardCharsets.UTF_8));
        System.setErr(new PrintStream(new FileOutputStream(FileDescriptor.err), true, StandardCharsets.UTF_8));
    }

    /**
     * Runs a command; whatever happens, the exit status is one that its help lists.
     *
     * @param commands made here, so that making them cannot end otherwise than running them
     */
    public int run(Function<PrintWriter, CommandLine> commands, String... args) {
        PrintWriter err = writer(System.err);
        try {
            return commands.apply(err).execute(args);
        } catch (OutOfMemoryError e) {
            long needed = LogLimits.HEAP_BYTES >> 20;
            err.println("Out of memory: this takes more than the heap of "
                    + (Runtime.getRuntime().maxMemory() >> 20) + " MiB that Java was given, and " + needed
                    + " MiB should do for everything ('java -Xmx" + needed
                    + "m -jar ...'). If it had those, it is a defect of the " + name
                    + "; please report it. Nothing was decided.");
            return Sysexits.SOFTWARE;
        } catch (Throwable e) { // whatever it is: Java itself would end with 1, which means something else here
            defect(err, e);
            return Sysexits.SOFTWARE;
        }
    }

    /**
     * The commands, with what they say to a mistake and how they end.
     *
     * @param main annotated with all of them
     */
    public CommandLine commands(Object main, PrintWriter err) {
        return new CommandLine(main)
                .setUsageHelpWidth(HELP_WIDTH)
                .setColorScheme(CommandLine.Help.defaultColorScheme(CommandLine.Help.Ansi.OFF))
                .setOut(writer(System.out))
                .setErr(err)
                .setExitCodeExceptionMapper(Program::status)
                .setExecutionExceptionHandler((e, command, parsed) -> explain(e, command.getErr()))
                .setParameterExceptionHandler((e, arguments) -> mistake(e));
    }

    private static int mistake(CommandLine.ParameterException e) {
        PrintWriter err = e.getCommandLine().getErr();
        err.println(told(e));
        err.println("Try '" + e.getCommandLine().getCommandSpec().qualifiedName() + " --help'.");
        return Sysexits.USAGE;
    }

    /** What is wrong, and the command or option that a mistyped one was probably meant to be. */
    private static String told(CommandLine.ParameterException e) {
        if (!(e instanceof CommandLine.UnmatchedArgumentException unmatched)) {
            return String.valueOf(e.getMessage());
        }
        String given = unmatched.getUnmatched().get(0);
        CommandLine.Model.CommandSpec spec = e.getCommandLine().getCommandSpec();
        boolean command = !given.startsWith("-") && !spec.subcommands().isEmpty();
        Collection<String> words =
                command ? spec.subcommands().keySet() : spec.optionsMap().keySet();
        return (command ? "unknown command '" + given + "'" : e.getMessage())
                + Nearest.of(given, words)
                        .map(word -> "; did you mean '" + word + "'?")
                        .orElse("");
    }

    /** In UTF-8 whatever the locale says: a bench computer without one still shows degrees. Nothing steers a terminal. */
    public static PrintWriter writer(PrintStream stream) {
        return new PrintWriter(Shown.writer(new OutputStreamWriter(stream, StandardCharsets.UTF_8)), true);
    }

    private static int status(Throwable e) {
        return e instanceof Complaint complaint ? complaint.status() : Sysexits.SOFTWARE;
    }

    /** A user's mistake is a message and a status; only a defect of ours shows its stack. */
    private int explain(Exception e, PrintWriter err) {
        if (e instanceof Complaint complaint) {
            err.println(complaint.getMessage());
        } else {
            defect(err, e);
        }
        return status(e);
    }

    private void defect(PrintWriter err, Throwable e) {
        err.println("This is a defect of the " + name + "; please report it with the text below. Nothing was decided.");
        e.printStackTrace(err);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.command;

import dev.loadwitness.agent.load.LoadLauncher;
import dev.loadwitness.agent.place.Home;
import dev.loadwitness.agent.place.Texts;
import dev.loadwitness.agent.procedure.RailPlan;
import dev.loadwitness.agent.program.Version;
import dev.loadwitness.agent.session.RunOptions;
import dev.loadwitness.agent.session.Session;
import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Terminal;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.procedure.Procedure;
import java.io.Console;
import java.io.PrintStream;
import java.nio.file.Path;
import java.util.Optional;
import java.util.concurrent.Callable;
import picocli.CommandLine.Command;
import picocli.CommandLine.Mixin;
import picocli.CommandLine.Model.CommandSpec;
import picocli.CommandLine.Option;
import picocli.CommandLine.ParameterException;
import picocli.CommandLine.Spec;

@Command(
        name = "run",
        description = {
            "Runs a procedure on this machine and writes DIR/run.jsonl.",
            "Before the load it checks that DIR's disk is quick enough, and on a terminal has the cautions confirmed.",
            "On a terminal, without --procedure, it asks for what it needs."
        },
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        exitCodeListHeading = "%nExit status:%n",
        exitCodeList = {
            " 0:the run was completed",
            " 1:the run ended early: safety ceiling, failed load, blind witness, log not writable for too long",
            " 2:the operator stopped the run, did not confirm the cautions, or switches the machine off as asked",
            "64:wrong usage",
            "65:a mistake in the procedure or the job sheet",
            "66:an input file cannot be read",
            "69:a device that the procedure needs is absent",
            "70:a defect of this program",
            "73:the log cannot be created, or its disk is too slow for this procedure",
            "74:the log could not be written to its end, or not be copied to --out"
        },
        footer = {
            "",
            "Example:",
            "  loadwitness-agent run --procedure quick-check --ticket FBR-2026-0142 --ambient 22.5"
        })
public final class RunCommand implements Callable<Integer> {
    @Spec
    private CommandSpec spec;

    @Mixin
    private RunOptions options;

    @Mixin
    private GpuOptions gpus;

    @Option(
            names = "--procedure",
            paramLabel = "NAME",
            description = "the procedure: a name such as quick-check, or a file's path")
    private String procedureWord;

    @Option(
            names = "--attended",
            description = "the cautions were read and somebody stays with the machine: do not ask on the terminal")
    private boolean attended;

    @Option(
            names = "--skip-asks",
            description = "leave out every stage that asks for something to be done by hand; the log says so")
    private boolean skipAsks;

    @Override
    public Integer call() throws Complaint, InterruptedException {
        Optional<Console> terminal = Terminal.find();
        Optional<Attachment> made = Optional.empty();
        Home home = Home.ofThisProgram();
        options.attended = attended;
        options.skipAsks = skipAsks;
        Path procedureFile;
        if (procedureWord != null) {
            procedureFile = Texts.find(procedureWord, home);
        } else {
            if (terminal.isEmpty()) {
                throw new ParameterException(
                        spec.commandLine(), "--procedure is missing, and there is no terminal to ask on");
            }
            Questions answers = Questions.ask(options, home, terminal.get());
            procedureFile = answers.procedure();
            made = answers.jobSheet();
        }
        options.check();
        Attachment text = Texts.file(procedureFile);
        Procedure procedure = Texts.procedure(text);
        Optional<Attachment> jobSheet = options.job == null ? made : Optional.of(Texts.file(options.job));
        Optional<JobSheet> sheet = Optional.empty();
        if (jobSheet.isPresent()) {
            sheet = Optional.of(Texts.jobSheet(jobSheet.get()));
            options.ticketFrom(sheet.get());
        }
        PrintStream out = System.out;
        RailPlan plan = RailPlan.of(procedure, sheet);
        plan.lengthened().or(plan::hint).ifPresent(out::println);
        return new Session(
                        plan,
                        text,
                        jobSheet,
                        options,
                        gpus.wishes(),
                        LoadLauncher.ofThisProgram(),
                        out,
                        terminal.isPresent())
                .run();
    }
}

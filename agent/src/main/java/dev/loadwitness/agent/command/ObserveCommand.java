// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.command;

import dev.loadwitness.agent.load.LoadLauncher;
import dev.loadwitness.agent.place.Texts;
import dev.loadwitness.agent.procedure.RailPlan;
import dev.loadwitness.agent.program.Version;
import dev.loadwitness.agent.session.RunOptions;
import dev.loadwitness.agent.session.Session;
import dev.loadwitness.agent.work.GpuChoice;
import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Terminal;
import java.util.Optional;
import java.util.concurrent.Callable;
import picocli.CommandLine.Command;
import picocli.CommandLine.Mixin;
import picocli.CommandLine.Model.CommandSpec;
import picocli.CommandLine.Option;
import picocli.CommandLine.ParameterException;
import picocli.CommandLine.Spec;

@Command(
        name = "observe",
        description = "Records without a load of ours: you bring another load, or watch the machine at rest.",
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        exitCodeListHeading = "%nExit status:%n",
        exitCodeList = {
            " 0:the time is over",
            " 1:ended early: safety ceiling, log not writable for too long",
            " 2:the operator stopped it",
            "64:wrong usage",
            "65:a mistake in the job sheet",
            "66:an input file cannot be read",
            "73:the log cannot be created, or its disk is too slow",
            "74:the log could not be written to its end, or not be copied to --out"
        },
        footer = {"", "Example:", "  loadwitness-agent observe --for '30 min' --ticket FBR-2026-0142"})
public final class ObserveCommand implements Callable<Integer> {
    @Spec
    private CommandSpec spec;

    @Mixin
    private RunOptions options;

    @Option(
            names = "--for",
            required = true,
            paramLabel = "TIME",
            description = "how long, with its unit: '90 s', '30 min', '2 h'")
    private String time;

    @Override
    public Integer call() throws Complaint, InterruptedException {
        options.check();
        if (!time.matches("[0-9]{1,6} ?(s|min|h)")) {
            throw new ParameterException(
                    spec.commandLine(), "--for is '" + time + "'; write for example '90 s', '30 min' or '2 h'");
        }
        Attachment procedure = Attachment.of("observe.yaml", procedure(time));
        Optional<Attachment> jobSheet = options.job == null ? Optional.empty() : Optional.of(Texts.file(options.job));
        if (jobSheet.isPresent()) {
            options.ticketFrom(Texts.jobSheet(jobSheet.get()));
        }
        return new Session(
                        RailPlan.of(Texts.procedure(procedure), Optional.empty()),
                        procedure,
                        jobSheet,
                        options,
                        GpuChoice.Wishes.NONE,
                        LoadLauncher.ofThisProgram(),
                        System.out,
                        Terminal.find().isPresent())
                .run();
    }

    private static String procedure(String time) {
        return """
                # Made by 'observe': no load of ours, so that no soak can be claimed.
                format: loadwitness-procedure/1
                name: observe
                title: Observation without a load of ours
                sampling: 1 s
                stages:
                  - id: observe
                    duration: %s
                safety:
                  stop-above: {cpu: 105 Cel, battery: 45 Cel}
                  silent-after: 10 s
                  adapter-lost: go-on
                  unguarded: allow
                decision:
                  rule: guarded
                  guard-factor: 1
                criteria:
                  interruptions:
                    mandatory: yes
                  evidence:
                    mandatory: yes
                """.formatted(time);
    }
}

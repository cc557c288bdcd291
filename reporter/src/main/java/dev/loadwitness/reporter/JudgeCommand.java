// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.reporter.text.VerdictJson;
import dev.loadwitness.reporter.text.VerdictText;
import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Terminal;
import java.io.PrintWriter;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.util.concurrent.Callable;
import picocli.CommandLine.Command;
import picocli.CommandLine.Mixin;
import picocli.CommandLine.Model.CommandSpec;
import picocli.CommandLine.Option;
import picocli.CommandLine.Spec;

@Command(
        name = "judge",
        description = "Says what a run shows on one screen: what happened, by how much, and how sure that is.",
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        exitCodeListHeading = "%nExit status:%n",
        exitCodeList = {
            " 0:pass",
            " 1:fail",
            " 2:inconclusive",
            "64:wrong usage",
            "65:the log is damaged or was altered, or an input has mistakes in it",
            "66:an input file cannot be read",
            "70:a defect of this program, or not enough memory for Java: nothing was decided",
            "73:--write-json cannot write its file"
        },
        footer = {
            "",
            "Example:",
            "  loadwitness-reporter judge runs/FBR-2026-0142-2/run.jsonl --earlier runs/FBR-2026-0142-1/run.jsonl"
        })
final class JudgeCommand implements Callable<Integer> {
    @Spec
    private CommandSpec spec;

    @Mixin
    private Inputs inputs;

    @Option(names = "--json", description = "print the verdict as JSON; see docs/verdict.schema.json")
    private boolean json;

    @Option(
            names = "--all",
            description = "print every criterion with limit, evidence and uncertainty, not only one screen")
    private boolean all;

    @Option(
            names = "--write-json",
            paramLabel = "FILE",
            description =
                    "also write the verdict as JSON to this file; an older verdict there is replaced, nothing else")
    private Path writeJson;

    @Override
    public Integer call() throws Complaint {
        Output file = writeJson == null
                ? null
                : Output.to(writeJson, "--write-json").replacing(VerdictJson.BEGINNING, inputs.files());
        if (file != null) {
            file.check();
        }
        Judgement judgement = inputs.judge(false);
        Inputs.nameStrangers(judgement, spec.commandLine().getErr());
        byte[] document = VerdictJson.write(judgement.verdict());
        if (file != null) {
            file.write(document);
        }
        PrintWriter out = spec.commandLine().getOut();
        if (json) {
            out.print(new String(document, StandardCharsets.UTF_8));
        } else {
            out.print(
                    all
                            ? VerdictText.render(judgement.verdict(), Terminal.width(), colour())
                            : VerdictText.screen(judgement.verdict(), Terminal.width(), colour()));
        }
        out.flush();
        return Exit.of(judgement);
    }

    private static boolean colour() {
        return System.getenv("NO_COLOR") == null && Terminal.find().isPresent();
    }
}

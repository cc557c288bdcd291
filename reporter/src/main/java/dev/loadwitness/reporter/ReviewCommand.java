// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.reporter.page.ReviewPage;
import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.runlog.Shown;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import dev.loadwitness.runlog.disk.DiskException;
import java.io.IOException;
import java.io.PrintWriter;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.concurrent.Callable;
import picocli.CommandLine.Command;
import picocli.CommandLine.Mixin;
import picocli.CommandLine.Model.CommandSpec;
import picocli.CommandLine.Option;
import picocli.CommandLine.Parameters;
import picocli.CommandLine.Spec;

@Command(
        name = "review",
        description = {
            "Judges a run and writes one HTML page for finding out why it came out as it did: every channel in charts"
                    + " on one time axis, the criteria with their evidence, and all that happened.",
            "The page needs no network, and opens on the last minute if the run was cut short."
        },
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        exitCodeListHeading = "%nExit status:%n",
        exitCodeList = {
            " 0:the page was written, pass",
            " 1:the page was written, fail",
            " 2:the page was written, inconclusive",
            "64:wrong usage",
            "65:the log is damaged or was altered (the page is written and says so), or an input has mistakes in it",
            "66:an input file cannot be read",
            "70:a defect of this program, or not enough memory for Java: nothing was decided",
            "73:the page cannot be written"
        },
        footer = {
            "",
            "Example:",
            "  loadwitness-reporter review runs/FBR-2026-0142-1/run.jsonl --out FBR-2026-0142.html",
            "  loadwitness-reporter review runs/FBR-2026-0142-1/run.jsonl runs/FBR-2026-0142-2/run.jsonl \\",
            "      --out FBR-2026-0142-both.html"
        })
final class ReviewCommand implements Callable<Integer> {
    @Spec
    private CommandSpec spec;

    @Mixin
    private Inputs inputs;

    @Parameters(
            index = "1",
            arity = "0..1",
            paramLabel = "LOG",
            description =
                    "another run to draw over the first; the exit status and the options below are about the first")
    private Path second;

    @Option(
            names = "--out",
            paramLabel = "FILE",
            description = "the page to write (default: review.html beside the log)")
    private Path out;

    @Option(names = "--replace", description = "write over a page that is there already; never over another file")
    private boolean replace;

    @Option(names = "--quiet", description = "do not repeat the verdict")
    private boolean quiet;

    @Override
    public Integer call() throws Complaint {
        Path target = out == null ? inputs.log.resolveSibling("review.html") : out;
        Output file = Output.to(target, "--out, and --replace for a page that is there already");
        if (replace) {
            List<Path> read = new ArrayList<>(inputs.files());
            if (second != null) {
                read.add(second);
            }
            file = file.replacing("<!DOCTYPE html>", read);
        }
        file.check();
        Judgement judgement = inputs.judge(false);
        PrintWriter err = spec.commandLine().getErr();
        Inputs.nameStrangers(judgement, err);
        List<ReviewPage.Subject> runs = new ArrayList<>();
        runs.add(new ReviewPage.Subject(judgement, inputs.log));
        if (second != null) {
            Judgement other = Inputs.judgeAlone(second);
            Inputs.nameStrangers(other, err);
            runs.add(new ReviewPage.Subject(other, second));
        }
        byte[] page;
        try {
            page = ReviewPage.write(runs, "loadwitness-reporter " + Version.text());
        } catch (DiskException e) {
            throw Complaint.of(e);
        } catch (IOException e) {
            throw Complaint.of(Sysexits.DATA, e);
        }
        file.write(page);
        PrintWriter writer = spec.commandLine().getOut();
        if (!quiet) {
            writer.println(Shown.line(judgement.verdict().sentence()));
            writer.println("Verdict: " + judgement.verdict().outcome().word());
        }
        writer.println(target);
        writer.flush();
        return Exit.of(judgement);
    }
}

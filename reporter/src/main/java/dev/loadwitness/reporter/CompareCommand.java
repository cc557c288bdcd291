// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.reporter.comparison.Comparison;
import dev.loadwitness.reporter.comparison.NotComparableException;
import dev.loadwitness.reporter.text.ComparisonJson;
import dev.loadwitness.reporter.text.ComparisonText;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import dev.loadwitness.runlog.command.Terminal;
import java.io.PrintWriter;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.util.List;
import java.util.concurrent.Callable;
import picocli.CommandLine.Command;
import picocli.CommandLine.Model.CommandSpec;
import picocli.CommandLine.Option;
import picocli.CommandLine.ParameterException;
import picocli.CommandLine.Parameters;
import picocli.CommandLine.Spec;

@Command(
        name = "compare",
        description =
                "Sets two runs of one procedure side by side, for example before and after a repair, or two stages of one"
                        + " run, and says which differences the measurements can tell apart.",
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        exitCodeListHeading = "%nExit status:%n",
        exitCodeList = {
            " 0:compared, whatever came out",
            "64:wrong usage",
            "65:a log is damaged or no run log, or no stages can be compared",
            "66:an input file cannot be read",
            "70:a defect of this program, or not enough memory for Java: nothing was decided"
        },
        footer = {
            "",
            "Examples:",
            "  loadwitness-reporter compare runs/before/run.jsonl runs/after/run.jsonl",
            "  loadwitness-reporter compare runs/after/run.jsonl --stages integrated-soak,discrete-soak"
        })
final class CompareCommand implements Callable<Integer> {
    @Spec
    private CommandSpec spec;

    @Parameters(index = "0", paramLabel = "LOG", description = "the first run")
    private Path first;

    @Parameters(
            index = "1",
            arity = "0..1",
            paramLabel = "LOG",
            description = "the second run; left out, two stages of the first are compared")
    private Path second;

    @Option(
            names = "--stages",
            split = ",",
            paramLabel = "STAGE,STAGE",
            hideParamSyntax = true,
            description =
                    "two stages: the first one's of the first run, the second one's of the second, or of the same")
    private List<String> stages;

    @Option(names = "--json", description = "print the comparison as JSON; see docs/comparing.md")
    private boolean json;

    @Override
    public Integer call() throws Complaint {
        if (stages != null && stages.size() != 2) {
            throw new ParameterException(spec.commandLine(), "--stages takes two stages, for example --stages a,b");
        }
        if (second == null && stages == null) {
            throw new ParameterException(spec.commandLine(), "give a second log, or two stages with --stages");
        }
        PrintWriter err = spec.commandLine().getErr();
        WholeRun one = WholeRun.read(first, err);
        WholeRun other = second == null ? one : WholeRun.read(second, err);
        Comparison comparison;
        try {
            comparison = stages == null
                    ? Comparison.ofRuns(one.run(), other.run())
                    : Comparison.ofStages(one.run(), stages.get(0), other.run(), stages.get(1));
        } catch (NotComparableException e) {
            throw Complaint.of(Sysexits.DATA, e);
        }
        PrintWriter out = spec.commandLine().getOut();
        out.print(
                json
                        ? new String(ComparisonJson.write(comparison), StandardCharsets.UTF_8)
                        : ComparisonText.render(
                                comparison,
                                new ComparisonText.Side(
                                        first.toString(), one.judgement().verdict()),
                                new ComparisonText.Side(
                                        (second == null ? first : second).toString(),
                                        other.judgement().verdict()),
                                Terminal.width()));
        out.flush();
        return 0;
    }
}

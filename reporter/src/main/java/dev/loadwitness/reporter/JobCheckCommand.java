// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.reporter.text.JobSheetCheck;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import dev.loadwitness.runlog.command.Terminal;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.jobsheet.JobSheetException;
import dev.loadwitness.runlog.jobsheet.JobSheetReader;
import java.io.PrintWriter;
import java.nio.file.Path;
import java.util.List;
import java.util.concurrent.Callable;
import picocli.CommandLine.Command;
import picocli.CommandLine.Model.CommandSpec;
import picocli.CommandLine.Option;
import picocli.CommandLine.Parameters;
import picocli.CommandLine.Spec;

@Command(
        name = "check",
        description = {
            "Reads a job sheet and lists its mistakes, or what is still open on it.",
            "Photos that lie beside it are compared with their digests."
        },
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        exitCodeListHeading = "%nExit status:%n",
        exitCodeList = {
            " 0:no mistakes, nothing open",
            " 2:no mistakes, something is open",
            "64:wrong usage",
            "65:it has mistakes, or a photo beside it is another one",
            "66:the file cannot be read",
            "70:a defect of this program, or not enough memory for Java: nothing was decided"
        },
        footer = {"", "Example:", "  loadwitness-reporter job check FBR-2026-0142.yaml"})
final class JobCheckCommand implements Callable<Integer> {
    @Spec
    private CommandSpec spec;

    @Parameters(paramLabel = "FILE", description = "the job sheet")
    private Path file;

    @Option(names = "--json", description = "print file, valid, problems, open and photos as JSON")
    private boolean json;

    @Override
    public Integer call() throws Complaint {
        JobSheetCheck check = check();
        PrintWriter out = spec.commandLine().getOut();
        out.print(json ? check.json() : check.text(Terminal.width()));
        out.flush();
        if (!check.problems().isEmpty() || check.photoDiffers()) {
            return Sysexits.DATA;
        }
        return check.open().isEmpty() ? Exit.PASS : Exit.INCONCLUSIVE;
    }

    private JobSheetCheck check() throws Complaint {
        String text = Inputs.text(file);
        String name = file.getFileName().toString();
        try {
            JobSheet sheet = JobSheetReader.read(name, text);
            return JobSheetCheck.of(name, sheet, Inputs.photos(file, sheet));
        } catch (JobSheetException e) {
            return new JobSheetCheck(name, e.problems(), List.of(), List.of());
        }
    }
}

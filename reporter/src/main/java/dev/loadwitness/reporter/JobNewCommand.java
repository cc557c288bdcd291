// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.jobsheet.JobSheetException;
import dev.loadwitness.runlog.jobsheet.JobSheetReader;
import dev.loadwitness.runlog.jobsheet.JobSheetTemplate;
import java.io.PrintWriter;
import java.nio.file.Path;
import java.util.concurrent.Callable;
import picocli.CommandLine.Command;
import picocli.CommandLine.Model.CommandSpec;
import picocli.CommandLine.Option;
import picocli.CommandLine.ParameterException;
import picocli.CommandLine.Spec;

@Command(
        name = "new",
        description = "Writes a job sheet to fill in: every key, explained, and nothing invented. Overwrites nothing.",
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        exitCodeListHeading = "%nExit status:%n",
        exitCodeList = {" 0:the sheet was written", "64:wrong usage", "73:the file is there already or cannot be made"},
        footer = {"", "Example:", "  loadwitness-reporter job new --ticket FBR-2026-0142 --out FBR-2026-0142.yaml"})
final class JobNewCommand implements Callable<Integer> {
    @Spec
    private CommandSpec spec;

    @Option(
            names = "--out",
            paramLabel = "FILE",
            defaultValue = "job-sheet.yaml",
            description = "the file to write (default: job-sheet.yaml)")
    private Path out;

    @Option(names = "--ticket", paramLabel = "T", defaultValue = "", description = "the bench's number for the job")
    private String ticket;

    @Override
    public Integer call() throws Complaint {
        String text = JobSheetTemplate.text(ticket);
        if (!ticket.isEmpty()) {
            try {
                JobSheetReader.read("--ticket", text);
            } catch (JobSheetException e) {
                throw new ParameterException(
                        spec.commandLine(), "--ticket: " + e.problems().get(0).text());
            }
        }
        Output.to(out, "--out").write(text);
        PrintWriter writer = spec.commandLine().getOut();
        writer.println(out);
        writer.flush();
        return Exit.PASS;
    }
}

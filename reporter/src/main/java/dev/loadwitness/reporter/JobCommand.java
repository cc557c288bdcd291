// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import picocli.CommandLine;
import picocli.CommandLine.Command;
import picocli.CommandLine.Model.CommandSpec;
import picocli.CommandLine.Spec;

@Command(
        name = "job",
        description = "Makes and checks job sheets: what only the technician knows of a job. See docs/job-sheet.md.",
        subcommands = {JobNewCommand.class, JobCheckCommand.class},
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        synopsisSubcommandLabel = "COMMAND",
        exitCodeListHeading = "%nExit status:%n",
        exitCodeList = {"64:wrong usage; see each command for the others"},
        footer = {"", "Example:", "  loadwitness-reporter job new --ticket FBR-2026-0142"})
final class JobCommand implements Runnable {
    @Spec
    private CommandSpec spec;

    @Override
    public void run() {
        throw new CommandLine.ParameterException(spec.commandLine(), "say which command: new or check");
    }
}

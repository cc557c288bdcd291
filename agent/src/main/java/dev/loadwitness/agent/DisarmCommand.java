// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import dev.loadwitness.agent.arm.ArmException;
import java.io.PrintWriter;
import java.nio.file.Path;
import java.util.List;
import java.util.concurrent.Callable;
import picocli.CommandLine.Command;
import picocli.CommandLine.Model.CommandSpec;
import picocli.CommandLine.Spec;

@Command(
        name = "disarm",
        description = "Removes all that 'arm' or 'run --armed' installed: unit and link, or scheduled task; copy of "
                + "the program, state.",
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        exitCodeListHeading = "%nExit status:%n",
        exitCodeList = {
            " 0:nothing of it is left",
            "64:wrong usage",
            "69:a run goes on from there at this moment",
            "73:something cannot be removed",
            "77:only root, or an administrator of Windows, can disarm"
        },
        footer = {"", "Example:", "  sudo loadwitness-agent disarm"})
final class DisarmCommand implements Callable<Integer> {
    @Spec
    private CommandSpec spec;

    @Override
    public Integer call() throws Complaint {
        PrintWriter out = spec.commandLine().getOut();
        try {
            List<Path> removed = MachineStart.in(MachineStart.ROOT).disarm();
            removed.forEach(path -> out.println("removed " + path));
            if (removed.isEmpty()) {
                out.println("Nothing was armed on this machine.");
            }
            return Exit.COMPLETED;
        } catch (ArmException e) {
            throw RunArming.complaint(e);
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import dev.loadwitness.agent.arm.ArmedState;
import dev.loadwitness.agent.place.Home;
import dev.loadwitness.agent.resume.Unfinished;
import dev.loadwitness.runlog.file.RunLogReader;
import java.io.IOException;
import java.nio.file.Path;
import java.util.Optional;
import java.util.concurrent.Callable;
import picocli.CommandLine.Command;
import picocli.CommandLine.Model.CommandSpec;
import picocli.CommandLine.Option;
import picocli.CommandLine.Parameters;
import picocli.CommandLine.Spec;

@Command(
        name = "arm",
        description = {
            "Makes this machine call 'resume' for the run in DIR by itself when it starts again. Needs root and a "
                    + "system with systemd that keeps its changes, such as the shop's own live system.",
            "On Windows, where this was never run: needs a command prompt opened as administrator, and installs a copy "
                    + "that only administrators can change, and a scheduled task with the rights of whoever arms.",
            "Elsewhere it installs a copy of this program that only root can change, its digests, and a unit without network and "
                    + "without rights that it does not need. 'disarm' removes all of it; so does the end of the run. "
                    + "'run --armed' does both.",
            "LOAD MAY COME BACK ON WITH NOBODY BESIDE THE MACHINE, if the procedure says so (on-interruption: go-on)."
        },
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        exitCodeListHeading = "%nExit status:%n",
        exitCodeList = {
            " 0:armed",
            "64:wrong usage",
            "65:no log that this version can go on with, or one that is closed",
            "66:there is no such log",
            "69:this system cannot be armed",
            "73:the log or the system lies where arming is not safe or does not last, or a run is armed already",
            "77:only root, or an administrator of Windows, can arm"
        },
        footer = {"", "Example:", "  sudo loadwitness-agent arm /srv/loadwitness/FBR-2026-0142"})
final class ArmCommand implements Callable<Integer> {
    static final String AT_BOOT = "--at-boot";

    @Spec
    private CommandSpec spec;

    @Parameters(paramLabel = "DIR", description = "folder of a run that goes on now, or that broke off")
    private Path folder;

    @Option(
            names = "--boots",
            paramLabel = "N",
            description = "how many starts it is good for, 1 to 100 (default: " + ArmedState.BOOTS + ")")
    private int boots = ArmedState.BOOTS;

    @Option(
            names = "--journal",
            paramLabel = "FILE",
            description = "where attempts on a ticket are remembered (default: as for 'run')")
    private Path journal;

    @Override
    public Integer call() throws Complaint {
        if (boots < 1 || boots > 100) {
            throw new Complaint(Exit.USAGE, "--boots is " + boots + "; give a number from 1 to 100");
        }
        LogFolder place = LogFolder.reopen(folder);
        Unfinished run = new Unfinished();
        try {
            RunLogReader.read(place.writing(), run);
        } catch (IOException e) {
            throw new Complaint(Exit.DATA, e.getMessage());
        }
        if (run.close().isPresent()) {
            throw new Complaint(
                    Exit.DATA,
                    place.writing() + " is closed (" + run.close().get().reason()
                            + "): there is nothing to go on with");
        }
        RunOptions options = new RunOptions();
        options.out = folder.toAbsolutePath().normalize();
        options.journal = journal;
        options.settle(Home.ofThisProgram());
        Optional<Path> remembered = run.header().ticket().isEmpty()
                ? Optional.empty()
                : Optional.of(options.journal != null ? options.journal : Session.journalBeside(options.out));
        RunArming.arm(MachineStart.ROOT, place, run.header(), remembered, boots);
        spec.commandLine()
                .getOut()
                .println("Armed for the run in " + options.out + ": at the next start 'resume' is called for it."
                        + " 'disarm' takes that back.");
        return Exit.COMPLETED;
    }
}

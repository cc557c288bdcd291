// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.session;

import dev.loadwitness.agent.load.LoadLauncher;
import dev.loadwitness.agent.run.Work;
import dev.loadwitness.agent.work.GpuChoice;
import dev.loadwitness.agent.work.ProcessWork;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import dev.loadwitness.runlog.procedure.LoadKind;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.Stage;
import java.io.IOException;
import java.util.EnumMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.Set;
import java.util.TreeSet;
import java.util.stream.Collectors;

/** The devices that the stages of a run put their GPU loads on. */
final class Devices {
    private final LoadLauncher launcher;
    private final GpuChoice.Wishes wishes;
    private final Map<Role, GpuChoice> gpus = new EnumMap<>(Role.class);

    Devices(LoadLauncher launcher, GpuChoice.Wishes wishes) {
        this.launcher = launcher;
        this.wishes = wishes;
    }

    /** Finds them before anything is touched. */
    void choose(Procedure procedure, String name) throws Complaint, InterruptedException {
        Set<Role> asked = roles(procedure.stages());
        if (asked.isEmpty()) {
            return;
        }
        LoadLauncher.Listing listing = launcher.devices();
        for (Role role : asked) {
            Optional<GpuChoice> choice = GpuChoice.of(role, listing.devices(), wishes);
            choice.ifPresent(c -> gpus.put(role, c));
            if (choice.isEmpty() && procedure.requiredDevices().contains(role)) {
                throw new Complaint(
                        Sysexits.UNAVAILABLE,
                        name + " needs " + role.word() + ", and OpenCL offers none"
                                + (listing.problem().isEmpty() ? "" : " (" + listing.problem() + ")") + "; there is "
                                + GpuChoice.list(listing.devices())
                                + ". Nothing was started. Install the GPU's driver with its OpenCL part, or take a"
                                + " procedure without GPU loads, for example thresholds/quick-check.yaml");
            }
        }
    }

    /** Whether all that this stage loads was found. */
    boolean has(Stage stage) {
        return stage.gpu().stream().allMatch(gpus::containsKey);
    }

    Work start(LoadKind kind, Stage stage) throws IOException {
        return ProcessWork.start(launcher, gpus, kind, stage);
    }

    /** The devices that the run was on before; says which is gone. */
    Optional<String> findAgain(List<Stage> left, Map<Role, Event> before) throws InterruptedException {
        Set<Role> roles = roles(left);
        if (roles.isEmpty()) {
            return Optional.empty();
        }
        LoadLauncher.Listing listing = launcher.devices();
        for (Role role : roles) {
            Optional<GpuChoice> choice = GpuChoice.again(role, listing.devices(), before);
            if (choice.isEmpty()) {
                return Optional.of(role.word() + " is not there any more"
                        + (listing.problem().isEmpty() ? "" : " (" + listing.problem() + ")") + "; OpenCL offers "
                        + GpuChoice.list(listing.devices()));
            }
            gpus.put(role, choice.get());
        }
        return Optional.empty();
    }

    private static Set<Role> roles(List<Stage> stages) {
        return stages.stream().flatMap(s -> s.gpu().stream()).collect(Collectors.toCollection(TreeSet::new));
    }
}

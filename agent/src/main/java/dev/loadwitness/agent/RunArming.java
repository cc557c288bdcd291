// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import dev.loadwitness.agent.arm.ArmException;
import dev.loadwitness.agent.arm.ArmedState;
import dev.loadwitness.agent.arm.Request;
import dev.loadwitness.agent.sensor.linux.LinuxFacts;
import dev.loadwitness.runlog.Header;
import java.io.IOException;
import java.nio.file.Path;
import java.time.Duration;
import java.time.Instant;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;

/**
 * Arms for one run, and disarms when that is over.
 *
 * @param atBoot whether this program runs from what was installed: then only the state goes, which says that the rest may
 *     go as soon as this program has ended
 * @param armed whether this run was armed before
 */
record RunArming(Path root, boolean atBoot, boolean armed) implements Session.Arming {
    /** A bench that has not come back to a run by then has forgotten it. */
    private static final Duration FOR = Duration.ofDays(14);

    @Override
    public void checkMachine() throws Complaint {
        try {
            MachineStart.in(root).checkMachine();
        } catch (ArmException e) {
            throw complaint(e);
        }
    }

    @Override
    public void check(LogFolder place) throws Complaint {
        try {
            MachineStart.in(root).check(plain(place.log().getParent()));
        } catch (ArmException e) {
            throw complaint(e);
        }
    }

    @Override
    public void arm(LogFolder place, Header header, Optional<Path> journal) throws Complaint {
        arm(root, place, header, journal, ArmedState.BOOTS);
    }

    static void arm(Path root, LogFolder place, Header header, Optional<Path> journal, int boots) throws Complaint {
        Path out = plain(place.log().getParent());
        List<Path> writable = new ArrayList<>();
        Path folder = plain(place.folder());
        if (!folder.equals(out)) {
            writable.add(folder);
            writable.add(folder.getParent()); // the log's folder there goes when it was copied to its place
        }
        Optional<Path> file = journal.map(RunArming::plain);
        file.ifPresent(j -> writable.add(j.getParent()));
        try {
            MachineStart.in(root)
                    .arm(new Request(
                            header.runId(),
                            out,
                            writable,
                            file,
                            LinuxFacts.machine(root),
                            boots,
                            Instant.now().plus(FOR)));
        } catch (ArmException e) {
            throw complaint(e);
        }
    }

    static Complaint complaint(ArmException e) {
        int status =
                switch (e.kind()) {
                    case PERMISSION -> Exit.NO_PERMISSION;
                    case SYSTEM -> Exit.UNAVAILABLE;
                    case PLACE -> Exit.CANNOT_CREATE;
                };
        return new Complaint(status, e.getMessage());
    }

    @Override
    public boolean isTakenUpAfterShutdown() {
        return armed && MachineStart.in(root).isStopping();
    }

    @Override
    public void disarm() {
        try {
            if (atBoot) {
                ArmedState.remove(root);
            } else if (armed) {
                MachineStart.in(root).disarm();
            }
        } catch (IOException | ArmException e) {
            System.err.println("The start at boot is still installed: " + e.getMessage() + "; 'disarm' removes it");
        }
    }

    private static Path plain(Path path) {
        return path.toAbsolutePath().normalize();
    }
}

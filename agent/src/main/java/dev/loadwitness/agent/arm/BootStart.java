// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.arm;

import java.nio.file.Path;
import java.util.List;

/** The start at boot, as the system at hand has it. */
public interface BootStart {
    /**
     * Says why nothing can be armed on this machine or by this user. Changes nothing.
     *
     * @throws ArmException saying what to do instead
     */
    void checkMachine() throws ArmException;

    /**
     * Says why a run whose log lies in that folder cannot be armed here. Changes nothing.
     *
     * @throws ArmException saying what to do instead
     */
    void check(Path folder) throws ArmException;

    /**
     * Installs all of it, or nothing.
     *
     * @throws ArmException saying what to do, and what is left if it could not be taken back
     */
    void arm(Request request) throws ArmException;

    /**
     * Removes every trace, and says what it was; empty if nothing was there.
     *
     * @throws ArmException if something is left
     */
    List<Path> disarm() throws ArmException;

    /** What is installed, if anything, the outermost paths only. */
    List<Path> traces();

    /** Whether something is installed that will start. */
    boolean isArmed();

    /** Whether the system is on its way down; false where it does not say so at once. */
    boolean isStopping();
}

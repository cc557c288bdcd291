// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux.message;

import java.util.Map;

/**
 * Fault numbers that NVIDIA's driver writes into the kernel's log. Numbers and what they stand for: {@code nverror.h} of
 * the open kernel modules and NVIDIA's catalog of them, as listed in the check values, section G.2; the sentences are
 * ours. What the catalog says of data-centre parts is taken to hold for laptops.
 *
 * @param fault our word
 */
record Xid(String fault, String meaning) {
    static final int FALLEN_OFF_THE_BUS = 79;

    private static final Xid UNLISTED = new Xid("gpu-fault", "a fault that our table does not list");

    private static final Map<Integer, Xid> TABLE = Map.ofEntries(
            Map.entry(13, new Xid("gpu-application", "the graphics engine rejected work; usually the program's fault")),
            Map.entry(
                    31, new Xid("gpu-application", "access to a page that is not there; usually the program's fault")),
            Map.entry(32, new Xid("gpu-link", "commands arrived damaged, mainly over a poor PCI link")),
            Map.entry(43, new Xid("gpu-application", "work was stopped for a fault of the program")),
            Map.entry(
                    45, new Xid("gpu-application", "work was cleared away after an earlier fault or a killed program")),
            Map.entry(46, new Xid("gpu-hang", "the GPU stopped working on its task")),
            Map.entry(48, new Xid("gpu-memory", "an error of two bits in the GPU's memory")),
            Map.entry(54, new Xid("gpu-power", "the GPU's auxiliary power is not connected")),
            Map.entry(61, new Xid("gpu-controller", "the GPU's power-management controller halted (old meaning)")),
            Map.entry(62, new Xid("gpu-controller", "the GPU's power-management controller halted")),
            Map.entry(63, new Xid("gpu-memory", "a bad part of the GPU's memory was taken out of use")),
            Map.entry(64, new Xid("gpu-memory", "a bad part of the GPU's memory could not be taken out of use")),
            Map.entry(74, new Xid("gpu-link", "an error of the link between GPUs")),
            Map.entry(
                    FALLEN_OFF_THE_BUS,
                    new Xid("gpu-off-the-bus", "the GPU has fallen off the bus: its link or its power is gone")),
            Map.entry(92, new Xid("gpu-memory", "many errors of one bit in the GPU's memory")),
            Map.entry(94, new Xid("gpu-memory", "an uncorrected memory error that was contained")),
            Map.entry(95, new Xid("gpu-memory", "an uncorrected memory error that was not contained")),
            Map.entry(109, new Xid("gpu-hang", "the GPU did not change its task in time")),
            Map.entry(119, new Xid("gpu-firmware", "the GPU's firmware does not answer")),
            Map.entry(120, new Xid("gpu-firmware", "the GPU's firmware failed")),
            Map.entry(140, new Xid("gpu-memory", "an uncorrected memory error")),
            Map.entry(143, new Xid("gpu-fault", "the GPU could not be initialised")),
            Map.entry(154, new Xid("gpu-fault", "the driver says what is needed after another fault")));

    static Xid of(int number) {
        return TABLE.getOrDefault(number, UNLISTED);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.command;

import dev.loadwitness.agent.work.GpuChoice;
import picocli.CommandLine.Option;

/** Which device GPU loads run on, where the choice by role is not what is wanted. */
final class GpuOptions {
    @Option(
            names = "--gpu-discrete",
            paramLabel = "WHICH",
            description = "take this GPU for the discrete one: its PCI address, or a part of its name (see probe)")
    String discrete;

    @Option(
            names = "--gpu-integrated",
            paramLabel = "WHICH",
            description = "take this GPU for the integrated one: its PCI address, or a part of its name (see probe)")
    String integrated;

    @Option(
            names = "--opencl-device",
            paramLabel = "NAME",
            description =
                    "run GPU loads on this OpenCL device whatever it is, a processor too; the log says so, and such"
                            + " a run proves nothing about a GPU")
    String any;

    GpuChoice.Wishes wishes() {
        return new GpuChoice.Wishes(discrete, integrated, any);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.work;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.agent.load.worker.ComputeDevice;
import dev.loadwitness.agent.sensor.linux.LinuxSensors;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.command.Complaint;
import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.List;
import java.util.Optional;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

final class GpuChoiceTest {
    private static final ComputeDevice DISCRETE =
            device(ComputeDevice.Type.GPU, "Corvid G7 150W", Optional.of("ffff:01:00.0"), false);
    private static final ComputeDevice SECOND =
            device(ComputeDevice.Type.GPU, "Corvid G5 80W", Optional.of("ffff:02:00.0"), false);
    private static final ComputeDevice INTEGRATED =
            device(ComputeDevice.Type.GPU, "Kestrel Graphics", Optional.empty(), true);
    private static final ComputeDevice CPU = device(ComputeDevice.Type.CPU, "pthread-Kestrel", Optional.empty(), true);

    private static ComputeDevice device(
            ComputeDevice.Type type, String name, Optional<String> address, boolean hostMemory) {
        return new ComputeDevice(
                0, 0, type, name, "", "made-up 1.0", address, 8L << 30, 2L << 30, hostMemory, 40, 2000, 1024, 1, 0);
    }

    private static Optional<GpuChoice> choose(Role role, GpuChoice.Wishes wishes, ComputeDevice... devices)
            throws Complaint {
        return GpuChoice.of(role, List.of(devices), wishes);
    }

    @Test
    void withoutAWishTheRoleDecidesAndAProcessorIsNeverTaken() throws Complaint {
        GpuChoice.Wishes none = GpuChoice.Wishes.NONE;
        assertThat(choose(Role.GPU_DISCRETE, none, CPU, INTEGRATED, DISCRETE)
                        .orElseThrow()
                        .device())
                .isEqualTo(DISCRETE);
        assertThat(choose(Role.GPU_INTEGRATED, none, CPU, INTEGRATED, DISCRETE)
                        .orElseThrow()
                        .device())
                .isEqualTo(INTEGRATED);
        assertThat(choose(Role.GPU_DISCRETE, none, CPU, INTEGRATED)).isEmpty();
        assertThat(choose(Role.GPU_DISCRETE, none, DISCRETE, SECOND)
                        .orElseThrow()
                        .how())
                .isEqualTo("the first of 2");
    }

    @Test
    void aWishIsAnAddressOrAPartOfTheName() throws Complaint {
        assertThat(choose(Role.GPU_DISCRETE, new GpuChoice.Wishes("FFFF:02:00.0", null, null), DISCRETE, SECOND)
                        .orElseThrow()
                        .device())
                .isEqualTo(SECOND);
        assertThat(choose(Role.GPU_INTEGRATED, new GpuChoice.Wishes(null, "g7", null), INTEGRATED, DISCRETE)
                        .orElseThrow()
                        .device())
                .isEqualTo(DISCRETE);
    }

    @Test
    void aWishThatNothingFitsIsAMistakeAndNotAnotherDevice() {
        assertThatThrownBy(() -> choose(Role.GPU_DISCRETE, new GpuChoice.Wishes("G9", null, null), DISCRETE, CPU))
                .isInstanceOf(Complaint.class)
                .hasMessageContaining("'G9'")
                .hasMessageContaining("Corvid G7 150W");
        assertThatThrownBy(() -> choose(Role.GPU_DISCRETE, new GpuChoice.Wishes("pthread", null, null), CPU))
                .isInstanceOf(Complaint.class);
    }

    @Test
    void aProcessorStandsInOnlyWhereItIsNamedForThatAndTheLogSaysSo() throws Complaint {
        GpuChoice choice = choose(Role.GPU_DISCRETE, new GpuChoice.Wishes(null, null, "pthread"), DISCRETE, CPU)
                .orElseThrow();
        assertThat(choice.isStandIn()).isTrue();
        assertThat(choice.facts())
                .containsEntry("standIn", true)
                .containsEntry("deviceType", "cpu")
                .containsEntry("how", "a CPU device chosen explicitly; proves nothing about a GPU");
        assertThat(choose(Role.GPU_DISCRETE, GpuChoice.Wishes.NONE, DISCRETE)
                        .orElseThrow()
                        .facts())
                .doesNotContainKey("standIn")
                .containsEntry("address", "ffff:01:00.0");
    }

    @Test
    void theKernelsFilesTellTheRoleOfAnAddress(@TempDir Path root) throws IOException {
        for (String name : List.of("pci0000:00/0000:00:02.0", "pci0000:00/0000:00:01.0/0000:01:00.0")) {
            Path folder = Files.createDirectories(root.resolve("sys/devices").resolve(name));
            Files.writeString(folder.resolve("class"), "0x030000\n", StandardCharsets.US_ASCII);
            Files.writeString(folder.resolve("vendor"), "0x8086\n", StandardCharsets.US_ASCII);
            Path links = Files.createDirectories(root.resolve("sys/bus/pci/devices"));
            Files.createSymbolicLink(links.resolve(folder.getFileName()), folder);
        }
        assertThat(LinuxSensors.gpuRole(root, "0000:00:02.0")).contains(Role.GPU_INTEGRATED);
        assertThat(LinuxSensors.gpuRole(root, "0000:01:00.0")).contains(Role.GPU_DISCRETE);
        assertThat(LinuxSensors.gpuRole(root, "0000:09:00.0")).isEmpty();
    }
}

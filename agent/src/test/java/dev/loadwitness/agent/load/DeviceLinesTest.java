// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.agent.load.worker.ComputeDevice;
import java.util.List;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.ValueSource;

final class DeviceLinesTest {
    private static final String DEVICE =
            "device 0\t0\tGPU\tCorvid G7\tFernhollow\tCorvid CL 1.0\t\t1073741824\t268435456\tfalse\t8\t1500\t256\t1\t0";

    private static LoadLauncher.Listing listing(String... lines) {
        DeviceLines said = new DeviceLines();
        List.of(lines).forEach(said::hear);
        said.failed("ended");
        return said.listing();
    }

    @Test
    void whatWasSaidBeforeTheEndIsKeptAndTheDriverThatWasAskedIsNamed() {
        LoadLauncher.Listing listing = listing("platform 0 Corvid CL", DEVICE, "platform 1 ", "platform 1 Other CL");
        assertThat(listing.devices()).hasSize(1);
        assertThat(listing.problem()).isEqualTo("the OpenCL driver 'Other CL' ended");
        assertThat(listing().problem()).isEqualTo("an OpenCL driver ended");
    }

    @Test
    void aListingThatIsCompleteIsNoProblemUnlessThereIsNothing() {
        assertThat(listing("platform 0 Corvid CL", DEVICE, "end").problem()).isEmpty();
        assertThat(listing("end").problem()).isEqualTo("OpenCL is there but offers no device");
        assertThat(listing("none no driver").problem()).isEqualTo("no driver");
    }

    @ParameterizedTest
    @ValueSource(
            strings = {
                "device ",
                "device 0\t0\tGPU",
                "device 0\t0\tROCKET\tn\tv\td\t\t1073741824\t268435456\tfalse\t8\t1500\t256\t1\t0",
                "device 0\tx\tGPU\tn\tv\td\t\t1073741824\t268435456\tfalse\t8\t1500\t256\t1\t0",
                "device 0\t0\tGPU\tn\tv\td\t../../1\t1073741824\t268435456\tfalse\t8\t1500\t256\t1\t0",
                "device 0\t0\tGPU\tn\tv\td\t\t1073741824\t268435456\tfalse\t-8\t1500\t256\t1\t0",
                "platform -1 Corvid CL",
                "platform 99999999999 Corvid CL"
            })
    void aLineThatDescribesNoDeviceIsSaidWithItsDriverAndTheOthersAreListed(String line) {
        LoadLauncher.Listing listing = listing("platform 0 Corvid CL", line, DEVICE, "end");
        assertThat(listing.devices()).hasSize(1);
        assertThat(listing.problem())
                .startsWith("the OpenCL driver 'Corvid CL' made the process that asked it say '"
                        + line.substring(0, 7).strip())
                .contains("which describes no device")
                .doesNotContain("\t")
                .hasSizeLessThan(300);
    }

    @Test
    void moreDevicesAndComplaintsThanCanBeAreCountedAndNotKept() {
        DeviceLines said = new DeviceLines();
        for (int i = 0; i < 1000; i++) {
            said.hear(DEVICE);
            said.hear("refused \u001b[2J" + "x".repeat(5000));
        }
        assertThat(said.listing().devices()).hasSize(ComputeDevice.MOST_DEVICES);
        assertThat(said.listing().problem())
                .hasSizeLessThan(20_000)
                .contains("more of that kind")
                .doesNotContain("\u001b");
    }

    @Test
    void notesThatADriverWritesBetweenTheLinesAreNoDevices() {
        LoadLauncher.Listing listing = listing("platform 0 Corvid CL", "warning: no cache", "", DEVICE, "end");
        assertThat(listing.devices()).hasSize(1);
        assertThat(listing.problem()).isEmpty();
    }
}

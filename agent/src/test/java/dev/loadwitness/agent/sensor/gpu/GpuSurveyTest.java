// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import java.io.ByteArrayOutputStream;
import java.io.IOException;
import java.io.PrintStream;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.Timeout;
import org.junit.jupiter.api.io.TempDir;

class GpuSurveyTest {
    @TempDir
    Path folder;

    private static String survey(Path library, int status) throws IOException, InterruptedException {
        ByteArrayOutputStream bytes = new ByteArrayOutputStream();
        try (PrintStream out = new PrintStream(bytes, false, StandardCharsets.UTF_8)) {
            assertThat(GpuSurvey.run(library, 3, out)).isEqualTo(status);
        }
        return bytes.toString(StandardCharsets.UTF_8);
    }

    @Test
    void everyRawValueIsPrintedWithItsCodeAndCost() throws Exception {
        StubLibrary library = new StubLibrary(folder);
        library.behaves("supported 0x1ff", "field252 1500000000", "samples-until 1100000");
        assertThat(survey(library.file(), 0))
                .contains("driver 580.65.06, GPUs 1")
                .contains("GPU 0000:01:00.0 Corvid G7 150W")
                .containsPattern("nvmlDeviceGetPowerUsage mW +95250\n")
                .containsPattern("nvmlDeviceGetFanSpeed +not supported \\(3\\)\n")
                .containsPattern("nvmlDeviceGetTotalEccErrors\\(corrected, volatile\\) +not supported \\(3\\)\n")
                .containsPattern("nvmlDeviceGetCurrentClocksThrottleReasons +function not found \\(13\\)\n")
                .containsPattern("nvmlDeviceGetFieldValues\\(252\\) type 3 +1500000000\n")
                .containsPattern("nvmlDeviceGetSamples\\(total power\\) +6 over 0.100 s: lowest 30000")
                .containsPattern("power +95.25 +W ")
                .containsPattern(" one sample of all \\d+ channels +3 ")
                .containsPattern("pcie.replays +3.0 ")
                .containsPattern("violation time, power policy +0.0\n")
                .containsPattern("nvmlDeviceGetTemperature +\\d+ .*\\{0=\\d+\\}");
    }

    @Test
    void libraryThatDoesNotInitialiseSaysWhy() throws Exception {
        StubLibrary library = new StubLibrary(folder);
        library.behaves("nvmlInit_v2 18");
        assertThat(survey(library.file(), 69)).contains("driver and library do not match (18)");
    }

    @Test
    @Timeout(value = 60, threadMode = Timeout.ThreadMode.SEPARATE_THREAD)
    void countsAndTextsOfTheLibraryAreBoundedAndMadeVisible() throws Exception {
        StubLibrary library = new StubLibrary(folder);
        library.behaves(
                "count 4294967295", "name a\\tb\\n\\x1B[2J\\xE2" + "x".repeat(200), "pci \\x1B" + "y".repeat(200));
        ByteArrayOutputStream bytes = new ByteArrayOutputStream();
        try (PrintStream out = new PrintStream(bytes, false, StandardCharsets.UTF_8)) {
            assertThat(GpuSurvey.run(library.file(), 0, out)).isZero();
        }
        assertThat(bytes.toString(StandardCharsets.UTF_8))
                .contains("GPUs 4294967295\n")
                .containsPattern("GPU \\\\x1by{31} a\\\\x09b\\\\x0A\\\\x1B\\[2J\\\\xE2x{87}\n")
                .doesNotContain("\u001B");
    }

    @Test
    void onlyAbsolutePathsAreLoadedAndWhatIsNoLibraryIsRefused() throws IOException {
        assertThatThrownBy(() -> new Nvml(Path.of("libnvidia-ml.so.1"), Nvml.Watch.NONE))
                .isInstanceOf(IOException.class)
                .hasMessageContaining("not an absolute path");
        Path text = Files.writeString(folder.resolve("libnvidia-ml.so.1"), "not a library");
        assertThatThrownBy(() -> new Nvml(text, Nvml.Watch.NONE))
                .isInstanceOf(IOException.class)
                .hasMessageContaining("cannot be loaded");
    }

    @Test
    void onlySystemPlacesAreSearched() {
        assertThat(LibraryLocation.CANDIDATES)
                .isNotEmpty()
                .allMatch(Path::isAbsolute)
                .allMatch(p -> p.startsWith("/usr/lib") || p.startsWith("/usr/lib64"));
    }

    @Test
    void addressesAreWrittenAsTheKernelWritesThem() {
        assertThat(Nvml.kernelForm("00000000:01:00.0")).isEqualTo("0000:01:00.0");
        assertThat(Nvml.kernelForm("00000000:AF:00.0")).isEqualTo("0000:af:00.0");
        assertThat(Nvml.kernelForm("00010000:01:00.0")).isEqualTo("10000:01:00.0");
    }
}

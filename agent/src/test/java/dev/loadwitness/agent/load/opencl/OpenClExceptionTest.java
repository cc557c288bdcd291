// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.opencl;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.agent.load.opencl.OpenClException.Kind;
import org.junit.jupiter.api.Test;

final class OpenClExceptionTest {
    @Test
    void anAnswerIsToldByNameNumberAndMeaning() {
        assertThat(OpenClException.ofCall("clGetPlatformIDs", -1001))
                .hasMessage(
                        "clGetPlatformIDs: CL_PLATFORM_NOT_FOUND_KHR (-1001): no GPU driver is registered for OpenCL");
        assertThat(OpenClException.ofCall("clFlush", -77)).hasMessageContaining("error -77");
    }

    @Test
    void whatMeansALostDeviceDependsOnWhetherItHadWorked() {
        assertThat(OpenClException.ofCall("clCreateContext", -5).kind()).isEqualTo(Kind.OTHER);
        for (int code : new int[] {-2, -5, -14, -33, -36, -9999}) {
            assertThat(OpenClException.ofRunning("clFlush", code).kind())
                    .as("code %d", code)
                    .isEqualTo(Kind.DEVICE_LOST);
        }
        assertThat(OpenClException.ofRunning("clEnqueueReadBuffer", -4).kind()).isEqualTo(Kind.OUT_OF_MEMORY);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.opencl;

import java.nio.file.Path;

/** A way for tests, and for them alone, to another library than the system's. */
public final class OpenClFile {
    private OpenClFile() {}

    public static OpenCl load(Path library) {
        return OpenCl.load(library);
    }
}

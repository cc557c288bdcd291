// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.common;

import oshi.spi.SystemInfoProvider;
import oshi.util.GlobalConfig;

/** OSHI, set up once and only when somebody asks. */
final class Oshi {
    private static final SystemInfoProvider SYSTEM = create();

    private Oshi() {}

    static SystemInfoProvider system() {
        return SYSTEM;
    }

    private static SystemInfoProvider create() {
        // By default it remembers readings for 300 ms, which made most samples at 10 Hz stale.
        GlobalConfig.set(GlobalConfig.OSHI_UTIL_MEMOIZER_EXPIRATION, 1);
        // The one without native code, which would be unpacked into a folder that may be full or noexec.
        return new oshi.nativefree.SystemInfo();
    }
}

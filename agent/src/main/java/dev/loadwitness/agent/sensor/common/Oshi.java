// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.common;

import java.util.Locale;
import oshi.spi.SystemInfoProvider;
import oshi.util.GlobalConfig;

/** OSHI, set up once and only when somebody asks. */
final class Oshi {
    private static final SystemInfoProvider SYSTEM = create();

    private Oshi() {}

    static SystemInfoProvider system() {
        return SYSTEM;
    }

    static boolean onLinux() {
        return System.getProperty("os.name").toLowerCase(Locale.ROOT).startsWith("linux");
    }

    private static SystemInfoProvider create() {
        // By default it remembers readings for 300 ms, which made most samples at 10 Hz stale.
        GlobalConfig.set(GlobalConfig.OSHI_UTIL_MEMOIZER_EXPIRATION, 1);
        // On Linux it can do without native code, which would be unpacked into a folder that may be full or noexec.
        return onLinux() ? new oshi.nativefree.SystemInfo() : new oshi.SystemInfo();
    }
}

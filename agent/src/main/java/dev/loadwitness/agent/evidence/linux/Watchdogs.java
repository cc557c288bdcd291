// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.linux;

import dev.loadwitness.runlog.ending.Fact;
import dev.loadwitness.runlog.ending.Found;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.List;
import java.util.function.BiConsumer;

/** What the machine's watchdogs say about its start: Documentation/ABI/testing/sysfs-class-watchdog (CONFIG_WATCHDOG_SYSFS). */
final class Watchdogs {
    /** WDIOF_ bits of include/uapi/linux/watchdog.h. */
    private static final int OVERHEAT = 0x01;

    private static final int POWER_UNDER = 0x10;
    private static final int CARD_RESET = 0x20;

    private final Path root;

    Watchdogs(Path root) {
        this.root = root;
    }

    private List<Path> all() throws IOException {
        return Bounded.list(root.resolve("sys/class/watchdog"));
    }

    void learn(BiConsumer<Fact, String> facts) throws IOException {
        Found found = Found.ABSENT;
        int unread = 0;
        for (Path watchdog : all()) {
            int status;
            try {
                status = Integer.decode(Bounded.text(watchdog.resolve("bootstatus"), Bounded.SMALL_BYTES));
            } catch (IOException | NumberFormatException e) {
                unread++; // this one does not say
                continue;
            }
            if ((status & CARD_RESET) != 0) {
                found = Found.RESET;
                break;
            }
            if (found == Found.ABSENT || found == Found.NONE) {
                found = (status & OVERHEAT) != 0
                        ? Found.OVERHEAT
                        : (status & POWER_UNDER) != 0 ? Found.UNDER_VOLTAGE : Found.NONE;
            }
        }
        if (found == Found.ABSENT && unread > 0) {
            throw new IOException("its status at boot cannot be read");
        }
        facts.accept(Fact.WATCHDOG, found.word());
    }

    /** The name of one that tells its status at boot. */
    String quality() throws IOException {
        for (Path watchdog : all()) {
            if (Files.exists(watchdog.resolve("bootstatus"))) {
                String name = Files.exists(watchdog.resolve("identity"))
                        ? Bounded.text(watchdog.resolve("identity"), Bounded.SMALL_BYTES)
                        : "unnamed";
                return Bounded.harmless(name, 60);
            }
        }
        throw new IOException("none that tells its status at boot");
    }
}

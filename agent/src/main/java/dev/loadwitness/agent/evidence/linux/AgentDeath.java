// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.linux;

import dev.loadwitness.agent.evidence.LastBoot;
import dev.loadwitness.runlog.ending.Fact;
import dev.loadwitness.runlog.ending.Found;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.time.Instant;
import java.util.function.BiConsumer;

/** Whether it was this program alone that ended. */
final class AgentDeath {
    private static final double KILL_SLACK_SECONDS = 60;

    private AgentDeath() {}

    static void crashed(LastBoot last, BiConsumer<Fact, String> facts) throws IOException {
        if (last.crashFolders().isEmpty() || last.lastSample().isEmpty()) {
            return; // it writes none
        }
        Instant sample = last.comparable().orElseThrow(() -> new IOException("times cannot be compared"));
        boolean found = false;
        for (Path folder : last.crashFolders()) {
            for (Path file : Bounded.list(folder)) {
                found |= file.getFileName().toString().matches("hs_err_pid\\d{1,10}\\.log")
                        && !Files.getLastModifiedTime(file).toInstant().isBefore(sample.minusSeconds(1));
            }
        }
        facts.accept(Fact.AGENT_CRASH, (found ? Found.REPORT : Found.NONE).word());
    }

    static void killed(LastBoot last, KernelMessages kernel, ThisBoot boot, BiConsumer<Fact, String> facts)
            throws IOException {
        var killed = kernel.text().javaKilledSeconds();
        if (killed.isPresent() && last.comparable().isPresent()) {
            Instant at = boot.start().plusMillis(Math.round(killed.getAsDouble() * 1000));
            double apart =
                    Math.abs(Duration.between(last.comparable().get(), at).toMillis() / 1000.0);
            if (apart <= KILL_SLACK_SECONDS) {
                facts.accept(Fact.AGENT_KILLED, Found.OUT_OF_MEMORY.word());
            }
        }
    }
}

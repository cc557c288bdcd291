// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.linux;

import dev.loadwitness.agent.evidence.LastBoot;
import dev.loadwitness.runlog.ending.Fact;
import dev.loadwitness.runlog.ending.Found;
import java.io.IOException;
import java.nio.file.Path;
import java.time.Duration;
import java.time.Instant;
import java.util.function.BiConsumer;
import java.util.regex.Pattern;

/** Which start of the machine this is, and when it began. */
final class ThisBoot {
    private static final Pattern BOOT_ID = Pattern.compile("[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}");

    /** {@code /proc/stat} names each interrupt before it comes to btime. */
    private static final int STAT_BYTES = 1 << 20;

    private final Path root;

    ThisBoot(Path root) {
        this.root = root;
    }

    static boolean isKnown(LastBoot last) {
        return BOOT_ID.matcher(last.bootId()).matches();
    }

    void same(LastBoot last, BiConsumer<Fact, String> facts) throws IOException {
        if (!isKnown(last)) {
            throw new IOException("the log has none");
        }
        String now = id();
        facts.accept(Fact.SAME_BOOT, (now.equals(last.bootId()) ? Found.YES : Found.NO).word());
    }

    private String id() throws IOException {
        String now = Bounded.text(root.resolve("proc/sys/kernel/random/boot_id"), Bounded.SMALL_BYTES);
        if (!BOOT_ID.matcher(now).matches()) {
            throw new IOException("the kernel's is no UUID");
        }
        return now;
    }

    Instant start() throws IOException {
        for (String line :
                Bounded.text(root.resolve("proc/stat"), STAT_BYTES).lines().toList()) {
            if (line.matches("btime \\d{1,12}")) {
                return Instant.ofEpochSecond(Long.parseLong(line.substring("btime ".length())));
            }
        }
        throw new IOException("stat has no btime");
    }

    void offSeconds(LastBoot last, BiConsumer<Fact, String> facts) throws IOException {
        Instant sample = last.comparable()
                .orElseThrow(
                        () -> new IOException("the clock of then or now is not trusted, so times are not compared"));
        Duration off = Duration.between(sample, start());
        if (off.isNegative()) {
            // btime has whole seconds only.
            if (off.compareTo(Duration.ofSeconds(-1)) < 0) {
                throw new IOException("this boot began before the last sample, by its clock");
            }
            off = Duration.ZERO;
        }
        facts.accept(Fact.OFF_SECONDS, Bounded.seconds(off));
    }
}

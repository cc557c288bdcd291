// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.linux;

import dev.loadwitness.agent.evidence.LastBoot;
import dev.loadwitness.runlog.ending.Fact;
import dev.loadwitness.runlog.ending.Found;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Instant;
import java.util.function.BiConsumer;

/** The record of logins, which notes starts and orderly ends of the system. */
final class Wtmp {
    private static final String ANOTHER = "this system keeps wtmpdb instead, which is not read";

    private final Path root;

    Wtmp(Path root) {
        this.root = root;
    }

    private Path file() {
        return root.resolve("var/log/wtmp");
    }

    private boolean keepsAnother() {
        return Files.exists(root.resolve("var/lib/wtmpdb/wtmp.db"));
    }

    void learn(LastBoot last, BiConsumer<Fact, String> facts) throws IOException {
        Path file = file();
        if (!Files.exists(file)) {
            throw new IOException(keepsAnother() ? ANOTHER : "not there");
        }
        Instant sample = last.comparable()
                .orElseThrow(() -> new IOException("times cannot be compared, so that boot is not found in it"));
        Found found = LoginRecords.after(LoginRecords.read(file), sample)
                .orElseThrow(() -> new IOException("has no record of that boot's start, or none of this one's"));
        facts.accept(Fact.LOGIN_RECORDS, found.word());
    }

    /** Its name, if it can be read. */
    String quality() throws IOException {
        if (!Files.exists(file()) && keepsAnother()) {
            throw new IOException(ANOTHER);
        }
        if (LoginRecords.read(file()).isEmpty()) {
            throw new IOException("wtmp has no record of a start");
        }
        return "wtmp";
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.linux;

import dev.loadwitness.agent.process.SystemProgram;
import dev.loadwitness.runlog.ending.Fact;
import dev.loadwitness.runlog.ending.Found;
import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.util.List;
import java.util.Optional;
import java.util.function.BiConsumer;

/** What the kernel has said since this start. */
final class KernelMessages {
    private static final int MOST_BYTES = 2 << 20;

    private final Path root;
    private final Duration limit;

    KernelMessages(Path root, Duration limit) {
        this.root = root;
        this.limit = limit;
    }

    /** By the system's own program, because it asks without waiting for more messages. */
    KernelText text() throws IOException {
        SystemProgram.Answer answer = SystemProgram.ask(List.of(SystemProgram.find(root, "dmesg")), MOST_BYTES, limit);
        if (answer.failed()) {
            throw new IOException("permission denied");
        }
        return new KernelText(
                new String(answer.bytes(), StandardCharsets.ISO_8859_1).lines().toList());
    }

    void learn(BiConsumer<Fact, String> facts) throws IOException {
        KernelText text = text();
        text.resetReasons().ifPresent(r -> facts.accept(Fact.RESET_REASON, r));
        text.resetText().ifPresent(t -> facts.accept(Fact.RESET_TEXT, t));
        Optional<Found> error = text.hardwareError();
        if (error.isPresent()) {
            facts.accept(Fact.HARDWARE_ERROR, error.get().word());
        } else if (text.whole() && hasErrorTable()) {
            facts.accept(Fact.HARDWARE_ERROR, Found.NONE.word());
        }
    }

    /** ACPI's boot error record table. */
    private boolean hasErrorTable() {
        return Files.exists(root.resolve("sys/firmware/acpi/tables/BERT"));
    }

    String qualityOfResetReasons() throws IOException {
        KernelText text = text();
        if (text.resetReasons().isPresent()) {
            return "the kernel tells them";
        }
        throw new IOException(text.whole() ? "the kernel tells none" : "the kernel's first messages are gone by now");
    }

    String qualityOfHardwareErrors() throws IOException {
        if (!hasErrorTable()) {
            throw new IOException("firmware has no boot error record table");
        }
        text();
        return "boot error record table";
    }
}

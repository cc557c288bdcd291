// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.procedure;

import dev.loadwitness.runlog.Attachment;
import java.io.IOException;
import java.io.InputStream;
import java.nio.charset.StandardCharsets;
import java.util.List;
import java.util.Optional;

/** The procedures that this program came with, inside it: those that lie beside it on a stick may have been edited. */
final class OwnProcedures {
    static final List<String> NAMES = List.of(
            "charge-circuit", "cold-starts", "gpu-power-repair", "integrated-only", "quick-check", "repeat-soak");

    private OwnProcedures() {}

    /** Which of them has that digest; empty if none has. */
    static Optional<String> nameOf(String sha256) {
        return NAMES.stream()
                .filter(name -> Attachment.of(name, text(name)).sha256().equals(sha256))
                .findFirst();
    }

    static String text(String name) {
        try (InputStream in = OwnProcedures.class.getResourceAsStream("/thresholds/" + name + ".yaml")) {
            if (in == null) {
                throw new IllegalStateException("this program lacks its procedure " + name);
            }
            return new String(in.readAllBytes(), StandardCharsets.UTF_8);
        } catch (IOException e) {
            throw new IllegalStateException("this program's own file cannot be read", e);
        }
    }
}

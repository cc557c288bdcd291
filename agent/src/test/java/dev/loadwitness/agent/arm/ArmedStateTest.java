// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.arm;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.nio.file.attribute.PosixFilePermissions;
import java.time.Instant;
import java.util.Map;
import java.util.Optional;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

final class ArmedStateTest {
    private static final Map<String, String> KESTREL =
            Map.of("make", "Alder Works", "model", "AW-17 Kestrel", "serial", "AWK17-004711");

    @TempDir
    private Path root;

    @BeforeEach
    void folder() throws IOException {
        Files.createDirectories(root.resolve("var/lib/loadwitness"));
    }

    private ArmedState state(Map<String, String> facts) {
        return ArmedState.of(
                "0123",
                Path.of("/srv/runs/a b=c"),
                Optional.of(Path.of("/srv/runs/journal")),
                facts,
                root,
                3,
                Instant.parse("2026-12-09T00:00:00Z"));
    }

    @Test
    void whatIsWrittenIsReadAgainAndOnlyRootMayRead() throws IOException {
        ArmedState state = state(KESTREL);
        state.write(root);
        assertThat(ArmedState.read(root)).contains(state);
        Path file = root.resolve("var/lib/loadwitness/state");
        assertThat(PosixFilePermissions.toString(Files.getPosixFilePermissions(file)))
                .isEqualTo("rw-------");
        assertThat(Files.readString(file)).doesNotContain("AWK17-004711");
    }

    @Test
    void aBootIsCountedOnTheDisk() throws IOException {
        state(KESTREL).write(root);
        ArmedState.read(root).orElseThrow().countDown(root);
        assertThat(ArmedState.read(root).orElseThrow().bootsLeft()).isEqualTo(2);
    }

    @Test
    void aDamagedFileIsSaidSoAndNeverGuessedAt() throws IOException {
        state(KESTREL).write(root);
        Path file = root.resolve("var/lib/loadwitness/state");
        String whole = Files.readString(file);
        for (String broken : new String[] {
            "", whole.replace("boots-left=3", "boots-left=x"), whole.replace("run=", "ran="), whole.substring(0, 60)
        }) {
            Files.writeString(file, broken);
            assertThatThrownBy(() -> ArmedState.read(root))
                    .isInstanceOf(IOException.class)
                    .hasMessageContaining("is damaged")
                    .hasMessageContaining("disarm");
        }
    }

    @Test
    void onlyTheSameMachineGivesTheDigest() {
        ArmedState state = state(KESTREL);
        assertThat(state.isThisMachine(KESTREL, root)).isTrue();
        assertThat(state.isThisMachine(
                        Map.of("make", "Alder Works", "model", "AW-17 Kestrel", "serial", "AWK17-004712"), root))
                .isFalse();
    }

    @Test
    void whereFirmwareKnowsNoNumberTheSystemsIdentityTellsMachinesApart() throws IOException {
        Map<String, String> nameless = Map.of("make", "QEMU", "uuid", "00000000-0000-0000-0000-000000000000");
        Path id = Files.createDirectories(root.resolve("etc")).resolve("machine-id");
        Files.writeString(id, "aaaa\n");
        ArmedState state = state(nameless);
        assertThat(state.isThisMachine(nameless, root)).isTrue();
        Files.writeString(id, "bbbb\n");
        assertThat(state.isThisMachine(nameless, root)).isFalse();
    }

    @Test
    void aHeaderIsComparedByWhatBothTellAndByNothingThatSaysNothing() {
        assertThat(Machine.difference(KESTREL, Map.of("model", "AW-17 Kestrel")))
                .isEmpty();
        assertThat(Machine.difference(KESTREL, Map.of("serial", "AWK17-009999")))
                .contains("its serial is AWK17-004711, and here it is AWK17-009999");
        assertThat(Machine.difference(Map.of("serial", "Default string"), Map.of("serial", "AWK17-009999")))
                .isEmpty();
        assertThat(Machine.difference(KESTREL, Map.of("model", "AW-15 Merlin"))).isPresent();
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

import static org.assertj.core.api.Assertions.assertThat;

import org.junit.jupiter.api.Test;

final class AttachmentTest {
    /** FIPS 180-4's example for "abc"; the second by {@code printf 'µ\n' | sha256sum} (coreutils). */
    @Test
    void digestIsThatOfTheFilesBytes() {
        assertThat(Attachment.of("a.yaml", "abc").sha256())
                .isEqualTo("ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
        assertThat(Attachment.of("b.yaml", "µ\n").sha256())
                .isEqualTo("31edfb4669cf541ed79a81f47ec93fdafce1dd0fb8a03d429f3775db20f75288");
    }
}

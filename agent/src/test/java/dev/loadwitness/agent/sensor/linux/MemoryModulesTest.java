// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import static org.assertj.core.api.Assertions.assertThat;

import java.io.ByteArrayOutputStream;
import java.nio.charset.StandardCharsets;
import java.util.Arrays;
import java.util.Map;
import java.util.Random;
import org.junit.jupiter.api.Test;

class MemoryModulesTest {
    private static final int MEMORY_DEVICE = 17;

    private final ByteArrayOutputStream table = new ByteArrayOutputStream();

    /** A structure of that type and length with these bytes in it, each at its offset, and these texts behind it. */
    private void structure(int type, int length, Map<Integer, Integer> bytes, String... texts) {
        byte[] structure = new byte[length];
        structure[0] = (byte) type;
        structure[1] = (byte) length;
        bytes.forEach((offset, value) -> structure[offset] = value.byteValue());
        table.writeBytes(structure);
        for (String text : texts) {
            table.writeBytes(text.getBytes(StandardCharsets.ISO_8859_1));
            table.write(0);
        }
        table.write(0);
        if (texts.length == 0) {
            table.write(0);
        }
    }

    private void laptop() {
        structure(0, 26, Map.of(), "Firmware works");
        structure(
                MEMORY_DEVICE,
                40,
                Map.of(0x0D, 0x40, 0x10, 1, 0x12, 0x1A, 0x17, 2, 0x18, 3, 0x1A, 4),
                "DIMM A",
                "Alder Works",
                "S-77",
                "AW16G4   ");
        structure(MEMORY_DEVICE, 40, Map.of(0x10, 1), "DIMM B");
        structure(MEMORY_DEVICE, 40, Map.of(0x0C, 0xFF, 0x0D, 0x7F, 0x1D, 0x80, 0x10, 9, 0x12, 0x22));
        structure(127, 4, Map.of());
        structure(MEMORY_DEVICE, 40, Map.of(0x0D, 0x40));
    }

    @Test
    void eachModuleThatIsThereIsListedAndAnEmptySlotIsNot() {
        laptop();
        assertThat(MemoryModules.in(table.toByteArray()))
                .containsExactly(
                        Map.of(
                                "slot",
                                "DIMM A",
                                "size",
                                "16384 MiB",
                                "type",
                                "DDR4",
                                "make",
                                "Alder Works",
                                "part",
                                "AW16G4",
                                "serial",
                                "S-77"),
                        Map.of("size", "32768 MiB", "type", "DDR5"));
    }

    @Test
    void aTableThatIsCutAnywhereIsReadAsFarAsItGoes() {
        laptop();
        byte[] whole = table.toByteArray();
        for (int length = 0; length < whole.length; length++) {
            assertThat(MemoryModules.in(Arrays.copyOf(whole, length)))
                    .as("cut at %d", length)
                    .hasSizeLessThanOrEqualTo(2);
        }
    }

    @Test
    void whateverFirmwareWroteEndsInAList() {
        long seed = Long.getLong("seed", System.nanoTime());
        Random random = new Random(seed);
        laptop();
        for (int i = 0; i < 20_000; i++) {
            byte[] bytes = table.toByteArray();
            for (int changes = random.nextInt(12); changes >= 0; changes--) {
                bytes[random.nextInt(bytes.length)] = (byte) random.nextInt();
            }
            assertThat(MemoryModules.in(bytes)).as("seed %d", seed).allMatch(m -> m.containsKey("size"));
        }
        byte[] endless = new byte[1 << 20];
        for (int i = 0; i + 40 <= endless.length; i += 42) {
            endless[i] = MEMORY_DEVICE;
            endless[i + 1] = 40;
            endless[i + 0x0D] = 1;
        }
        assertThat(MemoryModules.in(endless)).hasSize(256);
    }
}

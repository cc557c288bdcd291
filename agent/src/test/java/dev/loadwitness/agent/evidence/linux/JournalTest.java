// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.linux;

import static java.nio.charset.StandardCharsets.UTF_8;
import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.agent.evidence.linux.MadeUpRoot.Export;
import dev.loadwitness.runlog.ending.Found;
import java.util.Arrays;
import java.util.List;
import java.util.Map;
import org.junit.jupiter.api.Test;

/** The format is that of systemd's document "Journal Export Formats"; identifiers are those of its sd-messages.h. */
final class JournalTest {
    private static final String SHUTDOWN = "MESSAGE_ID=98268866d1d54a499c4e98921d93bc40";
    private static final String STOPPED = "MESSAGE_ID=d93fb3c9c24d451a97cea615ce59c00b";
    private static final String STARTED = "MESSAGE_ID=f77379a8490b408bbe5f6940505a777b";
    private static final String KEY = "MESSAGE_ID=b72ea4a2881545a0b50e200e55b9b071";

    @Test
    void textAndBinaryFieldsAreReadAndTheLastEntryNeedsNoEmptyLine() {
        byte[] export = new Export()
                .line("A=1")
                .binary("MESSAGE", "two\nlines=x".getBytes(UTF_8))
                .line("")
                .line("A=2")
                .bytes();

        assertThat(Journal.entries(export))
                .containsExactly(Map.of("A", "1", "MESSAGE", "two\nlines=x"), Map.of("A", "2"));
    }

    @Test
    void whereverItIsCutTheEntriesBeforeAreThere() {
        byte[] export = new Export()
                .root(0, "one")
                .binary("MESSAGE", new byte[300])
                .line("")
                .root(1, "two")
                .bytes();
        List<Map<String, String>> whole = Journal.entries(export);
        assertThat(whole).hasSize(3);
        for (int cut = 0; cut < export.length; cut++) {
            List<Map<String, String>> read = Journal.entries(Arrays.copyOf(export, cut));
            assertThat(read.size()).isLessThanOrEqualTo(3);
            for (int i = 0; i + 1 < read.size(); i++) {
                assertThat(read.get(i)).isEqualTo(whole.get(i));
            }
        }
    }

    @Test
    void aLengthThatCannotBeEndsTheReading() {
        for (long length : new long[] {-1, Long.MAX_VALUE, Integer.MAX_VALUE, 1000}) {
            byte[] export = new Export().line("A=1").line("").line("B").bytes();
            byte[] with = Arrays.copyOf(export, export.length + 10);
            java.nio.ByteBuffer.wrap(with)
                    .order(java.nio.ByteOrder.LITTLE_ENDIAN)
                    .putLong(export.length, length);
            assertThat(Journal.entries(with)).containsExactly(Map.of("A", "1"));
        }
    }

    @Test
    void entriesUpToTheDeathAndNoShutdownAreNone() {
        JournalEnd end = end(new Export().root(-60, "Started something.").kernel(-1, "usb 1-1: new device"));

        assertThat(end.end()).isEqualTo(Found.NONE);
        assertThat(end.asked()).isEmpty();
        assertThat(end.last()).contains(MadeUpRoot.LAST_SAMPLE.minusSeconds(1));
    }

    @Test
    void whatLogindSaysTellsShutdownFromRestart() {
        assertThat(end(new Export()
                                .root(1, "down", SHUTDOWN, "SHUTDOWN=power-off")
                                .root(3, "x", STOPPED))
                        .end())
                .isEqualTo(Found.SHUTDOWN);
        JournalEnd restart = end(new Export().root(1, "re", SHUTDOWN, "SHUTDOWN=reboot"));
        assertThat(restart.end()).isEqualTo(Found.RESTART);
        assertThat(restart.asked()).contains(Found.USER);
    }

    @Test
    void aTargetThatWasReachedTellsItWhereLogindDoesNot() {
        String[] done = {"UNIT=reboot.target", "JOB_TYPE=start", "JOB_RESULT=done"};
        assertThat(end(new Export().root(1, "Reached target", done)).end()).isEqualTo(Found.RESTART);
        done[0] = "UNIT=poweroff.target";
        assertThat(end(new Export().root(1, "Reached target", done)).end()).isEqualTo(Found.SHUTDOWN);
        done[2] = "JOB_RESULT=failed";
        assertThat(end(new Export().root(1, "Failed", done)).end()).isEqualTo(Found.NONE);
    }

    @Test
    void aJournalStoppedInOrderCountsOnlyAtTheEnd() {
        assertThat(end(new Export().root(1, "Journal stopped", STOPPED).kernel(2, "reboot: now"))
                        .end())
                .isEqualTo(Found.STOPPED);
        assertThat(end(new Export().root(1, "Journal stopped", STOPPED).root(2, "Journal started", STARTED))
                        .end())
                .isEqualTo(Found.NONE);
    }

    @Test
    void whoAskedIsTheButtonOnlyIfItWasPressedJustBefore() {
        Export pressed = new Export().root(0, "Power key pressed short.", KEY);
        assertThat(end(pressed.root(1, "down", SHUTDOWN, "SHUTDOWN=power-off")).asked())
                .contains(Found.POWER_BUTTON);
        Export longAgo = new Export().root(0, "Power key pressed short.", KEY);
        assertThat(end(longAgo.root(3000, "down", SHUTDOWN, "SHUTDOWN=power-off"))
                        .asked())
                .contains(Found.USER);
    }

    @Test
    void heatCountsOnlyFromTheKernel() {
        JournalEnd hot = end(new Export()
                .kernel(0, "thermal thermal_zone0: acpitz: critical temperature reached, shutting down")
                .root(1, "down", SHUTDOWN, "SHUTDOWN=power-off"));
        assertThat(hot.thermal()).isTrue();
        assertThat(hot.asked()).contains(Found.THERMAL);
        assertThat(end(new Export().kernel(0, "HARDWARE PROTECTION shutdown (Temperature too high)"))
                        .thermal())
                .isTrue();
        assertThat(end(new Export().root(0, "critical temperature reached")).thermal())
                .isFalse();
    }

    @Test
    void aUsersProgramCannotForgeAnEnd() {
        assertThat(end(new Export().entry(1, "_UID=1000", "MESSAGE=x", SHUTDOWN, "SHUTDOWN=power-off"))
                        .end())
                .isEqualTo(Found.NONE);
        assertThat(end(new Export().entry(1, "_UID=1000", "MESSAGE=x", STOPPED)).end())
                .isEqualTo(Found.NONE);
    }

    @Test
    void sleepWithoutWakingIsTold() {
        assertThat(end(new Export().kernel(0, "PM: suspend entry (deep)")).asleep())
                .isTrue();
        assertThat(end(new Export().kernel(0, "PM: suspend entry (deep)").kernel(9, "PM: suspend exit"))
                        .asleep())
                .isFalse();
    }

    private static JournalEnd end(Export export) {
        return JournalEnd.of(Journal.entries(export.bytes()));
    }
}

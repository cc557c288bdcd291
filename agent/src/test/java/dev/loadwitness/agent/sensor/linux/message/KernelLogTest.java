// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux.message;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.agent.sensor.Discovery;
import dev.loadwitness.agent.sensor.SensorFact;
import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.agent.sensor.linux.LinuxSensors;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Role;
import java.io.IOException;
import java.io.PipedInputStream;
import java.io.PipedOutputStream;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.concurrent.TimeUnit;
import java.util.concurrent.atomic.AtomicLong;
import java.util.function.UnaryOperator;
import org.junit.jupiter.api.AfterEach;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.Timeout;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

/**
 * Records as in {@code Documentation/ABI/testing/dev-kmsg}. Xid numbers and line shapes: check values, section G.2;
 * the other messages are made up after the kernel's sources, from memory.
 */
@Timeout(60)
class KernelLogTest {
    private static final Map<String, Role> GPUS = Map.of(
            "0000:01:00.0", Role.GPU_DISCRETE, "0000:00:01.0", Role.GPU_DISCRETE, "0000:00:02.0", Role.GPU_INTEGRATED);
    private static final Map<String, Role> USB = Map.of("1-3", Role.INPUT);

    /** One hour after power-on. */
    private final AtomicLong nanos = new AtomicLong(TimeUnit.HOURS.toNanos(1));

    private final PipedOutputStream kernel = new PipedOutputStream();
    private final KernelLog log;
    private long number;

    KernelLogTest() throws IOException {
        log = new KernelLog(
                new PipedInputStream(kernel, 1 << 20),
                GPUS,
                USB,
                text -> text.replace("AWK17-004711", "(withheld)"),
                nanos::get);
    }

    @AfterEach
    void end() throws IOException {
        kernel.close();
    }

    private void says(int level, String text) throws IOException {
        record(level, TimeUnit.NANOSECONDS.toMicros(nanos.get()) + 1, text);
    }

    private void record(int level, long micros, String text) throws IOException {
        kernel.write((level + "," + number++ + "," + micros + ",-;" + text + "\n").getBytes(StandardCharsets.UTF_8));
        kernel.flush();
    }

    /** All facts up to the last message, which this adds. */
    private List<SensorFact.Noticed> facts() throws IOException, InterruptedException {
        says(1, "end of the test");
        List<SensorFact.Noticed> all = new ArrayList<>();
        for (int i = 0; i < 500; i++) {
            log.takeFacts().forEach(f -> all.add((SensorFact.Noticed) f));
            if (!all.isEmpty()
                    && "end of the test".equals(all.get(all.size() - 1).facts().get("text"))) {
                all.remove(all.size() - 1);
                return all;
            }
            Thread.sleep(10);
        }
        throw new AssertionError("the last message never came; " + all);
    }

    @ParameterizedTest(name = "{0}")
    @CsvSource(delimiter = '|', textBlock = """
            13  | gpu-application
            31  | gpu-application
            48  | gpu-memory
            54  | gpu-power
            62  | gpu-controller
            63  | gpu-memory
            64  | gpu-memory
            79  | gpu-off-the-bus
            94  | gpu-memory
            95  | gpu-memory
            109 | gpu-hang
            119 | gpu-firmware
            120 | gpu-firmware
            140 | gpu-memory
            999 | gpu-fault
            """)
    void numberedFaultsOfTheDriverHaveAMeaning(int xid, String fault) throws Exception {
        says(4, "NVRM: Xid (PCI:0000:01:00): " + xid + ", pid=1896, name=gpu, Ch 00000008");
        SensorFact.Noticed fact = facts().get(0);
        assertThat(fact.kind()).isEqualTo(EventKind.KERNEL_MESSAGE);
        assertThat(fact.facts())
                .containsEntry("fault", fault)
                .containsEntry("code", (double) xid)
                .containsEntry("role", "gpu-discrete")
                .containsEntry("device", "0000:01:00.0");
        assertThat(fact.facts().get("meaning").toString()).isNotEmpty();
    }

    @Test
    void olderShapeOfTheLineIsUnderstood() throws Exception {
        says(4, "NVRM: Xid (0000:01:00): 31, Ch 0000000b, engmask 00000120, intr 10000000");
        assertThat(facts().get(0).facts()).containsEntry("code", 31.0).containsEntry("device", "0000:01:00.0");
    }

    @Test
    void gpuThatFellOffTheBusIsALostDeviceOnce() throws Exception {
        says(4, "NVRM: Xid (PCI:0000:01:00): 79, pid='<unknown>', GPU has fallen off the bus.");
        says(4, "NVRM: GPU 0000:01:00.0: GPU has fallen off the bus.");
        assertThat(facts())
                .extracting(SensorFact.Noticed::kind)
                .containsExactly(EventKind.KERNEL_MESSAGE, EventKind.DEVICE_LOST, EventKind.KERNEL_MESSAGE);
    }

    @ParameterizedTest(name = "{0}")
    @CsvSource(delimiter = '|', textBlock = """
            amdgpu 0000:01:00.0: amdgpu: GPU reset begin!                                        | gpu-reset             | gpu-discrete
            [drm:amdgpu_job_timedout [amdgpu]] *ERROR* ring gfx_0.0.0 timeout, signaled seq=4    | gpu-hang              |
            i915 0000:00:02.0: [drm] GPU HANG: ecode 12:1:85dffffb, in load [4242]               | gpu-hang              | gpu-integrated
            i915 0000:00:02.0: [drm] Resetting rcs0 for stopped heartbeat on rcs0                | gpu-reset             | gpu-integrated
            mce: [Hardware Error]: CPU 3: Machine Check: 0 Bank 5: bea0000000000108              | machine-check         | cpu
            mce: [Hardware Error]: Machine check events logged                                   | machine-check-corrected | cpu
            [Hardware Error]: Corrected error, no action required.                               | machine-check-corrected | cpu
            EDAC MC0: 1 CE memory read error on CPU_SrcID#0_MC#0_Chan#0_DIMM#0                   | memory-corrected      | memory
            EDAC MC0: 1 UE memory read error on CPU_SrcID#0_MC#0_Chan#0_DIMM#0                   | memory-uncorrected    | memory
            pcieport 0000:00:01.0: AER: Corrected error message received from 0000:01:00.0       | link-corrected        | gpu-discrete
            pcieport 0000:00:01.0: AER: Uncorrectable (Fatal) error message received from 0000:01:00.0 | link-uncorrected | gpu-discrete
            pcieport 0000:00:1c.0: PCIe Bus Error: severity=Corrected, type=Physical Layer       | link-corrected        |
            thermal thermal_zone0: acpitz: critical temperature reached, shutting down           | thermal-shutdown      | board
            nvme nvme0: controller is down; will reset: CSTS=0xffffffff, PCI_STATUS=0x10         | storage-error         | storage
            """)
    void messagesThatMatterAreToldInOurWords(String text, String fault, String role) throws Exception {
        says(3, text);
        SensorFact.Noticed fact = facts().get(0);
        assertThat(fact.facts()).containsEntry("text", text).containsEntry("fault", fault);
        assertThat(Optional.ofNullable(fact.facts().get("role"))).isEqualTo(Optional.ofNullable(role));
    }

    @Test
    void whatDoesNotMatterIsLeftOutUnlessItIsGrave() throws Exception {
        says(6, "usb 1-4: new high-speed USB device number 9 using xhci_hcd");
        says(4, "wlan0: associated");
        says(2, "something grave that no rule knows");
        List<SensorFact.Noticed> facts = facts();
        assertThat(facts).hasSize(1);
        assertThat(facts.get(0).facts()).containsOnly(Map.entry("text", "something grave that no rule knows"));
    }

    @Test
    void keyboardThatLeavesAndComesBackIsADevice() throws Exception {
        says(6, "usb 1-3: USB disconnect, device number 5");
        says(6, "usb 1-3: new low-speed USB device number 6 using xhci_hcd");
        List<SensorFact.Noticed> facts = facts();
        assertThat(facts)
                .extracting(SensorFact.Noticed::kind)
                .containsExactly(
                        EventKind.KERNEL_MESSAGE,
                        EventKind.DEVICE_LEFT,
                        EventKind.KERNEL_MESSAGE,
                        EventKind.DEVICE_ARRIVED);
        assertThat(facts.get(1).facts()).containsEntry("role", "input").containsEntry("device", "usb 1-3");
    }

    @Test
    void messagesFromBeforeTheRunAreNotOfTheRun() throws Exception {
        record(3, 5_000_000, "EDAC MC0: 1 UE memory read error on an earlier day");
        says(3, "EDAC MC0: 1 UE memory read error on DIMM#0");
        assertThat(facts())
                .extracting(f -> f.facts().get("text"))
                .containsExactly("EDAC MC0: 1 UE memory read error on DIMM#0");
    }

    @Test
    void stormIsCountedAndNotRepeated() throws Exception {
        for (int i = 0; i < 5000; i++) {
            says(3, "pcieport 0000:00:01.0: AER: Corrected error message received from 0000:01:00.0");
        }
        says(3, "EDAC MC0: 1 UE memory read error on DIMM#0");
        List<SensorFact.Noticed> facts = facts();
        assertThat(facts)
                .as("ten of the storm, and the other kind all the same")
                .hasSize(11);
        nanos.addAndGet(TimeUnit.SECONDS.toNanos(11));
        assertThat(log.takeFacts())
                .singleElement()
                .satisfies(f -> assertThat(((SensorFact.Noticed) f).facts())
                        .containsEntry("count", 4990.0)
                        .containsEntry("fault", "link-corrected"));
    }

    @Test
    void whatIsWithheldIsTakenOutOfTheText() throws Exception {
        says(3, "nvme nvme0: controller is down; serial AWK17-004711");
        assertThat(facts().get(0).facts()).containsEntry("text", "nvme nvme0: controller is down; serial (withheld)");
    }

    @Test
    void messagesThatWereOverwrittenAreCounted() throws Exception {
        says(6, "first");
        number += 40;
        says(6, "second");
        assertThat(facts().get(0).facts())
                .containsEntry("fault", "messages-lost")
                .containsEntry("text", "40 messages of the kernel were overwritten unread");
    }

    @Test
    void recordsOfManyLinesAndForeignOnesAreNoMessages() throws Exception {
        says(3, "EDAC MC0: 1 CE memory read error\n SUBSYSTEM=edac\n DEVICE=+edac:mc0\nnot a record; at all");
        assertThat(facts()).hasSize(1);
    }

    @Test
    void logThatEndsIsASilentSource() throws Exception {
        log.read(new double[0], 0);
        kernel.close();
        for (int i = 0; i < 500; i++) {
            try {
                log.read(new double[0], 0);
                Thread.sleep(10);
            } catch (IOException e) {
                break;
            }
        }
        assertThatThrownBy(() -> log.read(new double[0], 0)).hasMessageContaining("ended");
    }

    @Test
    void logThatCannotBeOpenedIsMissingAndWhatThatCosts(@TempDir Path root) {
        Discovery found = LinuxSensors.kernelLog(root, UnaryOperator.identity());
        assertThat(found.sources()).isEmpty();
        assertThat(found.missing()).singleElement().satisfies(m -> {
            assertThat(m.what()).isEqualTo("messages of the kernel");
            assertThat(m.whatToDo()).contains("root").contains("not in the log");
        });
    }

    @Test
    void theSourceHasNoChannels() {
        Source source = log;
        assertThat(source.channels()).isEmpty();
        assertThat(source.name()).isEqualTo("kmsg");
    }
}

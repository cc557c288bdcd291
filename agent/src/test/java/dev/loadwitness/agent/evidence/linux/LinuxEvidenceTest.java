// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.linux;

import static dev.loadwitness.agent.evidence.linux.MadeUpRoot.LAST_SAMPLE;
import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.agent.evidence.LastBoot;
import dev.loadwitness.agent.evidence.Quality;
import dev.loadwitness.agent.evidence.linux.MadeUpRoot.Export;
import dev.loadwitness.runlog.ending.EndCause;
import dev.loadwitness.runlog.ending.Ending;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Instant;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

final class LinuxEvidenceTest {
    private static final Instant OLD = LAST_SAMPLE.minusSeconds(86_400);

    @TempDir
    private Path folder;

    private MadeUpRoot machine;

    @BeforeEach
    void aMachineThatKeepsNothing() {
        machine = new MadeUpRoot(folder.resolve("root"));
    }

    @Test
    void withoutAnyEvidenceOnlyTheBootAndItsTimeAreToldAndWhyTheRestIsNot() {
        Map<String, String> facts = gather();

        assertThat(facts).containsOnlyKeys("same-boot", "off-seconds", "not-learned");
        assertThat(facts).containsEntry("same-boot", "no").containsEntry("off-seconds", "7.8");
        assertThat(facts.get("not-learned"))
                .contains("journal: not persistent")
                .contains("wtmp: not there")
                .contains("pstore: not mounted")
                .contains("watchdog: not there");
        assertThat(Ending.of(facts).excluded())
                .as("by the time alone")
                .containsOnlyKeys(EndCause.AGENT_KILLED, EndCause.AGENT_CRASHED);
    }

    @Test
    void aCutUnderFullEvidenceExcludesWhatItShould() {
        full();
        Map<String, String> facts = gather();

        assertThat(facts)
                .containsEntry("system-log", "none")
                .containsEntry("system-log-seconds", "-1.5")
                .containsEntry("crash-store", "empty")
                .containsEntry("thermal-message", "no")
                .containsEntry("hardware-error", "none")
                .containsEntry("watchdog", "none")
                .containsEntry("reset-reason-before", "none")
                .doesNotContainKey("crash-record");
        Ending ending = Ending.of(facts);
        assertThat(ending.open()).containsKey(EndCause.POWER_LOSS);
        assertThat(ending.excluded())
                .containsOnlyKeys(
                        EndCause.KERNEL_CRASH,
                        EndCause.ORDERLY_SHUTDOWN,
                        EndCause.ORDERLY_RESTART,
                        EndCause.AGENT_KILLED,
                        EndCause.AGENT_CRASHED);
    }

    @Test
    void theJournalIsAskedForThatBootByAbsolutePathWithAnEmptyEnvironment() throws IOException {
        full();
        gather();

        assertThat(Files.readString(machine.root.resolve("told/arguments")))
                .contains("--directory=" + machine.root.resolve("var/log/journal"))
                .contains("_BOOT_ID=5d1c000000004000800000000000b007")
                .contains("--output=export");
        assertThat(Files.readAllLines(machine.root.resolve("told/environment")))
                .contains("LC_ALL=C")
                .noneMatch(l -> l.startsWith("PATH=/") && l.contains("maven"))
                .noneMatch(l -> l.startsWith("HOME=") || l.startsWith("LD_"));
    }

    @Test
    void anOrderlyRestartIsShown() {
        full();
        machine.journal(new Export().root(1, "re", "MESSAGE_ID=98268866d1d54a499c4e98921d93bc40", "SHUTDOWN=reboot"));

        assertThat(Ending.of(gather()).shown()).containsOnlyKeys(EndCause.ORDERLY_RESTART);
    }

    @Test
    void theSameBootIsTheAgentsOwnEnd() {
        full();
        Map<String, String> facts = machine.evidence()
                .gather(new LastBoot(MadeUpRoot.BOOT_NOW, Optional.of(LAST_SAMPLE), true, List.of(folder)));

        assertThat(facts).containsOnly(Map.entry("same-boot", "yes"), Map.entry("agent-crash", "none"));
        assertThat(Ending.of(facts).shown()).containsOnlyKeys(EndCause.AGENT_KILLED);
    }

    @Test
    void aCrashReportOfTheAgentsJavaCountsOnlyIfItIsNotOlder() throws IOException {
        Path report = Files.writeString(folder.resolve("hs_err_pid4711.log"), "#\n");
        Files.setLastModifiedTime(report, java.nio.file.attribute.FileTime.from(OLD));
        LastBoot last = new LastBoot(MadeUpRoot.BOOT_NOW, Optional.of(LAST_SAMPLE), true, List.of(folder));
        assertThat(machine.evidence().gather(last)).containsEntry("agent-crash", "none");

        Files.setLastModifiedTime(report, java.nio.file.attribute.FileTime.from(LAST_SAMPLE.plusSeconds(2)));
        assertThat(machine.evidence().gather(last)).containsEntry("agent-crash", "report");
    }

    @Test
    void theKernelThatEndedTheAgentForMemoryIsHeard() {
        // 10:00:08 began this boot; 5 s later the kernel spoke.
        machine.kernelLog(
                "[    0.000000] Linux version 6.1.0",
                "[    5.100000] Out of memory: Killed process 812 (java) total-vm:1kB");
        LastBoot last =
                new LastBoot(MadeUpRoot.BOOT_NOW, Optional.of(MadeUpRoot.BOOT_START.plusSeconds(4)), true, List.of());
        assertThat(machine.evidence().gather(last)).containsEntry("agent-killed", "out-of-memory");

        LastBoot later = new LastBoot(
                MadeUpRoot.BOOT_NOW, Optional.of(MadeUpRoot.BOOT_START.plusSeconds(4000)), true, List.of());
        assertThat(machine.evidence().gather(later)).doesNotContainKey("agent-killed");
    }

    @Test
    void aCrashRecordIsWeighedByItsAgeAndKind() {
        full();
        machine.fileAt("sys/fs/pstore/dmesg-efi_pstore-17", "Panic#1 Part1\n<6>text", LAST_SAMPLE.plusSeconds(1));
        assertThat(gather()).containsEntry("crash-store", "panic").containsEntry("crash-record", "Panic#1 Part1");
        assertThat(gather(false)).containsEntry("crash-store", "undated");

        machine.fileAt("sys/fs/pstore/dmesg-efi_pstore-17", "Panic#1 Part1\n<6>text", OLD);
        assertThat(gather()).containsEntry("crash-store", "old");

        machine.fileAt("sys/fs/pstore/dmesg-efi_pstore-17", "Oops#1 Part1\n", LAST_SAMPLE);
        assertThat(gather()).containsEntry("crash-store", "oops");

        machine.fileAt("sys/fs/pstore/dmesg-efi_pstore-17", "Shutdown#1 Part1\n", LAST_SAMPLE);
        assertThat(gather()).containsEntry("crash-store", "empty");

        machine.fileAt("sys/fs/pstore/mce-erst-1", "x", LAST_SAMPLE);
        machine.fileAt("sys/fs/pstore/console-ramoops-0", "x", LAST_SAMPLE);
        assertThat(gather()).containsEntry("crash-store", "hardware-error");
    }

    @Test
    void aRecordThatSystemdMovedAwayIsFound() {
        full();
        machine.fileAt(
                "var/lib/systemd/pstore/17/001/dmesg-efi_pstore-17", "Panic#2 Part1\n", LAST_SAMPLE.plusSeconds(9));
        assertThat(gather()).containsEntry("crash-store", "panic");

        machine.fileAt("var/lib/systemd/pstore/17/001/dmesg-efi_pstore-17", "Panic#2 Part1\n", OLD);
        assertThat(gather()).as("archived long ago; the store itself is empty").containsEntry("crash-store", "empty");
    }

    @Test
    void aStoreThatCouldHoldNothingDoesNotCountAsEmpty() {
        full();
        machine.file("sys/module/pstore/parameters/backend", "(null)\n");

        assertThat(gather()).doesNotContainKey("crash-store");
        assertThat(gather().get("not-learned")).contains("pstore: no back end");
        assertThat(Ending.of(gather()).excluded()).doesNotContainKey(EndCause.KERNEL_CRASH);
    }

    @Test
    void resetReasonsOfTheChipsetAreComparedWithThoseOfTheBootBefore() {
        full();
        machine.journal(
                new Export().root(0, "x"),
                new Export()
                        .kernel(-99, "Linux version 6.16.0")
                        .kernel(-98, reset("0x00200800", "ACPI power state transition occurred")));
        machine.kernelLog(
                "[    0.000000] Linux version 6.16.0",
                "[    1.0] " + reset("0x00200801", "thermal pin BP_THERMTRIP_L was tripped"),
                "[    1.0] " + reset("0x00200801", "ACPI power state transition occurred"));

        assertThat(gather())
                .containsEntry("reset-reason", "thermal,other")
                .containsEntry("reset-reason-before", "other")
                .containsEntry(
                        "reset-text", "thermal pin BP_THERMTRIP_L was tripped; ACPI power state transition occurred");
        assertThat(Ending.of(gather()).shown()).containsOnlyKeys(EndCause.THERMAL_TRIP);
    }

    @Test
    void aFatalErrorThatFirmwareKeptIsToldFromErrorsOfThisBoot() {
        machine.kernelLog(
                "[    0.000000] Linux version 6.1.0",
                "[    0.9] BERT: Error records from previous boot:",
                "[    0.9] [Hardware Error]: event severity: fatal",
                "[    0.9] [Hardware Error]:  Error 0, type: fatal");
        assertThat(gather()).containsEntry("hardware-error", "fatal");

        machine.kernelLog("[    0.000000] Linux version 6.1.0", "[    9.0] [Hardware Error]: event severity: fatal");
        assertThat(gather()).doesNotContainKey("hardware-error");
    }

    @Test
    void theWatchdogsStatusAtBootIsDecoded() {
        machine.file("sys/class/watchdog/watchdog0/bootstatus", "32\n");
        assertThat(gather()).containsEntry("watchdog", "reset");
        machine.file("sys/class/watchdog/watchdog0/bootstatus", "1\n");
        assertThat(gather()).containsEntry("watchdog", "overheat");
        machine.file("sys/class/watchdog/watchdog0/bootstatus", "16\n");
        assertThat(gather()).containsEntry("watchdog", "under-voltage");
        machine.file("sys/class/watchdog/watchdog0/bootstatus", "junk\n");
        assertThat(gather()).doesNotContainKey("watchdog");
    }

    @Test
    void withAClockThatIsNotTrustedTimesOfTwoBootsAreNotCompared() {
        full();
        Map<String, String> facts = gather(false);

        assertThat(facts).doesNotContainKeys("off-seconds", "login-records");
        assertThat(facts).containsEntry("system-log-seconds", "-1.5");
        assertThat(facts).containsEntry("system-log", "none").containsEntry("crash-store", "empty");
        assertThat(facts.get("not-learned")).contains("not trusted");
    }

    @Test
    void aJournalThatEndsLongBeforeTheLastSampleIsComparedOnlyByATrustedClock() {
        full();
        machine.journal(new Export().kernel(-601, "usb 1-1: new device"));

        assertThat(gather(true)).containsEntry("system-log-seconds", "-601.0");
        assertThat(gather(false)).doesNotContainKey("system-log-seconds").containsEntry("system-log", "none");
    }

    @Test
    void programsThatHangFloodOrFailCostOnlyTheirOwnFacts() {
        full();
        machine.program("journalctl", "exec /bin/sleep 60");
        machine.program("dmesg", "exec /bin/cat /dev/zero");
        long begun = System.nanoTime();
        Map<String, String> facts = gather();

        assertThat((System.nanoTime() - begun) / 1_000_000_000L).isLessThan(20);
        assertThat(facts).containsEntry("crash-store", "empty").doesNotContainKeys("system-log", "reset-reason");
        assertThat(facts.get("not-learned")).contains("journalctl did not answer within 3 s");

        machine.program("journalctl", "exit 1");
        assertThat(gather().get("not-learned")).contains("journal: has nothing of that boot");
    }

    @Test
    void hostileContentsDoHarmToNothing() {
        full();
        machine.file("proc/stat", "btime 99999999999999999999\nbtime x\n");
        machine.file("var/log/wtmp", new byte[1000]);
        machine.file("sys/class/watchdog/watchdog0/bootstatus", "999999999999999999999\n");
        machine.kernelLog("[    0.0] " + reset("0x00000001", "\u001b[31mAWK17-004711\n\u0000"), "\u0000".repeat(99));
        machine.fileAt("sys/fs/pstore/dmesg-\u00e9vil", "\u001b]0;x\u0007", LAST_SAMPLE);
        machine.journal(new Export()
                .line("=")
                .line("==\u001b")
                .binary("", new byte[] {0, 10, 61})
                .line("\u0000"));

        assertThat(gather().values()).allSatisfy(v -> assertThat(v).matches("[\\x20-\\x7e]*"));
    }

    @Test
    void aBootIdThatIsNoneIsNeverHandedToAProgram() {
        full();
        Map<String, String> facts =
                machine.evidence().gather(new LastBoot("x --root=/; rm", Optional.of(LAST_SAMPLE), true, List.of()));

        assertThat(machine.root.resolve("told/arguments")).doesNotExist();
        assertThat(facts).doesNotContainKeys("same-boot", "system-log");
    }

    @Test
    void theRealMachineIsLookedAtWithoutHarm() {
        LinuxEvidence real = new LinuxEvidence(Path.of("/"), folder -> false);
        Map<String, String> facts =
                real.gather(new LastBoot(MadeUpRoot.BOOT_BEFORE, Optional.of(LAST_SAMPLE), false, List.of()));

        assertThat(facts).containsEntry("same-boot", "no");
        assertThat(real.quality()).hasSize(6);
    }

    @Test
    void qualitySaysWhatIsThereAndWhatToSwitchOn() {
        assertThat(machine.evidence().quality()).allSatisfy(q -> {
            assertThat(q.there()).isFalse();
            assertThat(q.whatToDo()).isNotEmpty();
        });
        full();
        assertThat(machine.evidence().quality().stream().filter(Quality::there).map(Quality::what))
                .containsExactly(
                        "system log of earlier boots",
                        "crash records of the kernel",
                        "watchdog",
                        "hardware errors kept by firmware");
        machine.inMemory.add(machine.root.resolve("var/log/journal"));
        assertThat(machine.evidence().quality().get(0)).satisfies(q -> {
            assertThat(q.there()).isFalse();
            assertThat(q.found()).contains("lies in memory");
        });
    }

    private void full() {
        machine.journal(new Export().root(-60, "Started.").kernel(-1.5, "usb 1-1: new device"));
        machine.pstore();
        machine.kernelLog("[    0.000000] Linux version 6.1.0", "[    0.1] Command line: quiet");
        machine.file("sys/firmware/acpi/tables/BERT", "BERT");
        machine.file("sys/class/watchdog/watchdog0/bootstatus", "0\n");
        machine.file("sys/class/watchdog/watchdog0/identity", "a watchdog\n");
    }

    private static String reset(String value, String reason) {
        return "x86/amd: Previous system reset reason [" + value + "]: " + reason;
    }

    private Map<String, String> gather() {
        return gather(true);
    }

    private Map<String, String> gather(boolean trusted) {
        return machine.evidence()
                .gather(new LastBoot(MadeUpRoot.BOOT_BEFORE, Optional.of(LAST_SAMPLE), trusted, List.of()));
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.windows;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.agent.evidence.LastBoot;
import dev.loadwitness.agent.evidence.Quality;
import dev.loadwitness.runlog.ending.EndCause;
import dev.loadwitness.runlog.ending.Ending;
import java.nio.file.Path;
import java.time.Duration;
import java.time.Instant;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import org.junit.jupiter.api.Test;

/** Texts: see {@link Recorded}; identifiers and their sources: see {@link Kind} and {@link Hardware}. */
class WindowsEvidenceTest {
    private static final Instant LAST_SAMPLE = Instant.parse("2026-11-25T14:00:30Z");

    /** The run's own boot, cleanly begun. */
    private final Recorded log = new Recorded().started("2026-11-25T13:00:00Z");

    private Map<String, String> facts() {
        return facts(Optional.of(LAST_SAMPLE));
    }

    private Map<String, String> facts(Optional<Instant> lastSample) {
        return new WindowsEvidence(log, Duration.ofSeconds(1)).facts(lastSample);
    }

    private static Ending ending(Map<String, String> facts) {
        return Ending.of(facts);
    }

    @Test
    void restartWithoutBugCheckOrButtonLeavesPowerLossHangAndFirmwareResetOpen() {
        log.dirty("2026-11-25T14:02:07Z", "")
                .unexpected("2026-11-25T14:02:00Z", Map.of())
                .started("2026-11-25T14:02:00Z");

        Map<String, String> facts = facts();

        assertThat(facts)
                .containsEntry("same-boot", "no")
                .containsEntry("system-log", "none")
                .containsEntry("crash-store", "empty")
                .containsEntry("off-seconds", "90.000")
                .containsEntry("hardware-error", "none")
                .doesNotContainKeys("power-button", "not-learned", "asked-by", "system-log-seconds");
        assertThat(ending(facts).open()).containsKeys(EndCause.POWER_LOSS, EndCause.HARD_HANG, EndCause.FIRMWARE_RESET);
        assertThat(ending(facts).excluded())
                .containsKeys(EndCause.ORDERLY_SHUTDOWN, EndCause.ORDERLY_RESTART, EndCause.KERNEL_CRASH);
    }

    /** Article on event 41: the code is decimal there. */
    @Test
    void bugCheckOfEvent41IsReadAsDecimalAndShowsAKernelCrash() {
        log.unexpected("2026-11-25T14:02:00Z", Map.of("BugcheckCode", "278")).started("2026-11-25T14:02:00Z");

        assertThat(facts())
                .containsEntry("crash-store", "panic")
                .containsEntry("crash-record", "bug check 0x00000116 VIDEO_TDR_FAILURE");
        assertThat(ending(facts()).shown()).containsOnlyKeys(EndCause.KERNEL_CRASH);
    }

    @Test
    void bugCheckRecordAloneShowsAKernelCrash() {
        log.started("2026-11-25T14:02:00Z")
                .bugCheck("2026-11-25T14:02:09Z", "0x00000124 (0x0000000000000000, 0xffffc08e5cac74a0, 0x0, 0x0)");

        assertThat(facts()).containsEntry("crash-record", "bug check 0x00000124 WHEA_UNCORRECTABLE_ERROR");
    }

    @Test
    void zerosExcludeNoCrashWhereDumpsAreKnownToFail() {
        log.unexpected("2026-11-25T14:02:00Z", Map.of())
                .started("2026-11-25T14:02:00Z")
                .other("volmgr", 46, "2026-11-25T14:02:01Z");

        assertThat(facts())
                .doesNotContainKey("crash-store")
                .hasEntrySatisfying("not-learned", t -> assertThat(t).contains("volmgr"));
        assertThat(ending(facts()).excluded()).doesNotContainKey(EndCause.KERNEL_CRASH);
    }

    /** Value and time of the sample in the article, see the check values, H.2. */
    @Test
    void stampOfThePowerButtonShowsThatItWasHeldAndWhen() {
        log.unexpected("2026-11-25T14:02:00Z", Map.of("PowerButtonTimestamp", "131728546170882432"))
                .started("2026-11-25T14:02:00Z");

        assertThat(facts())
                .containsEntry("power-button", "held")
                .containsEntry("power-button-utc", "2018-06-07T14:16:57.088Z");
        assertThat(ending(facts()).shown()).containsKey(EndCause.POWER_BUTTON_HELD);
    }

    @Test
    void longPressOfNewerVersionsAndItsBugCheckShowTheButtonAndNoCrash() {
        log.unexpected("2026-11-25T14:02:00Z", Map.of("BugcheckCode", "456", "LongPowerButtonPressDetected", "true"))
                .started("2026-11-25T14:02:00Z");

        assertThat(facts()).containsEntry("power-button", "held").doesNotContainValue("panic");
    }

    @Test
    void restartAskedForIsOrderlyAndSaysWhoAskedWithoutNames() {
        log.asked("2026-11-25T14:00:40Z", "C:\\Windows\\system32\\wuauclt.exe", "Neustart", "S-1-5-18")
                .transition("2026-11-25T14:00:50Z", 5)
                .stopped("2026-11-25T14:00:52Z")
                .started("2026-11-25T14:02:00Z");

        Map<String, String> facts = facts();

        assertThat(facts)
                .containsEntry("system-log", "restart")
                .containsEntry("asked-by", "user")
                .containsEntry("asked-by-process", "wuauclt.exe for the system")
                .containsEntry("system-log-seconds", "22.000");
        assertThat(facts.toString()).doesNotContain("AW17", "okonjo");
        assertThat(ending(facts).shown()).containsOnlyKeys(EndCause.ORDERLY_RESTART);
    }

    @Test
    void shutdownIsToldFromRestartByTheKernelsOwnEvent() {
        log.asked("2026-11-25T14:00:40Z", "C:\\Windows\\Explorer.EXE", "Ausschalten", "S-1-5-21-1-2-3-1001")
                .transition("2026-11-25T14:00:50Z", 6)
                .stopped("2026-11-25T14:00:52Z")
                .started("2026-11-25T15:00:00Z");

        assertThat(facts())
                .containsEntry("system-log", "shutdown")
                .containsEntry("asked-by-process", "Explorer.EXE for a user");
    }

    @Test
    void orderlyEndInAForeignLanguageAloneDoesNotSayWhich() {
        log.asked("2026-11-25T14:00:40Z", "C:\\x.exe", "Ausschalten", "")
                .stopped("2026-11-25T14:00:52Z")
                .started("2026-11-25T14:02:00Z");

        assertThat(facts()).containsEntry("system-log", "stopped");
    }

    @Test
    void wishForAShutdownThatNeverEndedInOrderExcludesNothingOfTheMachine() {
        log.asked("2026-11-25T14:00:20Z", "C:\\x.exe", "restart", "S-1-5-18")
                .unexpected("2026-11-25T14:02:00Z", Map.of())
                .started("2026-11-25T14:02:00Z");

        assertThat(facts()).containsEntry("system-log", "none");
        assertThat(ending(facts()).open()).containsKey(EndCause.POWER_LOSS);
    }

    @Test
    void event41AfterAnOrderlyEndIsAContradictionAndNeitherIsBelieved() {
        log.stopped("2026-11-25T14:00:52Z")
                .unexpected("2026-11-25T14:02:00Z", Map.of())
                .started("2026-11-25T14:02:00Z");

        assertThat(facts()).doesNotContainKey("system-log").containsKey("not-learned");
        assertThat(ending(facts()).open()).containsKeys(EndCause.POWER_LOSS, EndCause.ORDERLY_SHUTDOWN);
    }

    @Test
    void criticalThermalShutdownIsNamedWithItsZone() {
        log.power(86, "2026-11-25T14:00:45Z", "14", "\\_TZ.TZ00", "2026-11-25T14:00:45Z", "378")
                .unexpected("2026-11-25T14:02:00Z", Map.of())
                .started("2026-11-25T14:02:00Z");

        assertThat(facts())
                .containsEntry("thermal-message", "yes")
                .containsEntry("thermal-text", "critical shutdown, zone \\_TZ.TZ00, limit 378 K");
        assertThat(ending(facts()).shown()).containsKey(EndCause.THERMAL_TRIP);
    }

    @Test
    void hardwareWatchdogIsToldApart() {
        log.power(142, "2026-11-25T14:02:00Z").started("2026-11-25T14:02:00Z");

        assertThat(facts()).containsEntry("watchdog", "reset");
        assertThat(ending(facts()).shown()).containsKey(EndCause.WATCHDOG_RESET);
    }

    @Test
    void sleepWithoutReturnIsToldAndOneWithReturnIsNot() {
        log.power(42, "2026-11-25T14:00:45Z", "4", "4", "7")
                .power(107, "2026-11-25T14:05:00Z", "4")
                .power(42, "2026-11-25T14:10:00Z", "4", "4", "7");
        assertThat(facts()).containsEntry("same-boot", "yes").containsEntry("asleep", "yes");

        log.power(107, "2026-11-25T14:15:00Z", "4");
        assertThat(facts()).containsEntry("same-boot", "yes").containsEntry("asleep", "no");
    }

    @Test
    void noStartSinceTheLastSampleMeansTheMachineRanOn() {
        assertThat(facts()).containsEntry("same-boot", "yes").doesNotContainKeys("off-seconds", "system-log");
        assertThat(ending(facts()).excluded()).containsKey(EndCause.POWER_LOSS);
    }

    @Test
    void endOfTheRunsOwnBootIsTakenNotThatOfLaterOnes() {
        log.unexpected("2026-11-25T14:02:00Z", Map.of())
                .started("2026-11-25T14:02:00Z")
                .asked("2026-11-25T15:00:00Z", "C:\\x.exe", "restart", "")
                .stopped("2026-11-25T15:00:10Z")
                .started("2026-11-25T15:01:00Z");

        assertThat(facts())
                .containsEntry("system-log", "none")
                .containsEntry("off-seconds", "90.000")
                .containsEntry("windows-starts", "2")
                .doesNotContainKey("asked-by");
    }

    /** The battery of the clock is usually flat on a board that was off it. */
    @Test
    void clockThatFellBackByYearsIsToldAndTheOrderOfRecordsHolds() {
        log.unexpected("2015-01-01T00:00:20Z", Map.of()).started("2015-01-01T00:00:20Z");

        assertThat(facts())
                .containsEntry("same-boot", "no")
                .containsEntry("system-log", "none")
                .doesNotContainKey("off-seconds")
                .hasEntrySatisfying("not-learned", t -> assertThat(t).contains("clock"));
        assertThat(facts(Optional.empty())).containsEntry("same-boot", "no").containsEntry("system-log", "none");
    }

    /**
     * A user's published event 6008 says "11:19:07 PM" on "4/6/2018", in a time zone four hours behind; these are the
     * first 32 bytes of its binary data.
     */
    @Test
    void stampOfADirtyShutdownIsReadFromItsBinaryData() {
        String binary = "E207040005000600170013000700AB00E207040006000700030013000700AB00";
        assertThat(EndFacts.lastAlive(binary)).contains(Instant.parse("2018-04-07T03:19:07.171Z"));
        assertThat(EndFacts.lastAlive("")).isEmpty();
        assertThat(EndFacts.lastAlive("0".repeat(64))).isEmpty();
        assertThat(EndFacts.lastAlive("Z".repeat(64))).isEmpty();
    }

    @Test
    void windowsThatRanOnAfterTheLastSampleLeavesADeadAgentOpen() {
        // 25 November 2026, a Wednesday, 14:05:00.000, local and UTC alike
        String stamp = "EA070B0003001900" + "0E00050000000000";
        log.dirty("2026-11-25T14:06:07Z", stamp + stamp)
                .unexpected("2026-11-25T14:06:00Z", Map.of())
                .started("2026-11-25T14:06:00Z");

        assertThat(facts())
                .containsEntry("system-log-seconds", "270.000")
                .containsEntry("windows-alive-utc", "2026-11-25T14:05:00Z");
        assertThat(ending(facts()).open()).containsKey(EndCause.AGENT_KILLED);
    }

    @Test
    void hardwareErrorsAreCountedByTheirMeaningAndOnlyAfterTheLastSample() {
        log.hardware(18, 2, "2026-11-25T13:10:00Z") // before
                .unexpected("2026-11-25T14:02:00Z", Map.of())
                .started("2026-11-25T14:02:00Z")
                .hardware(47, 3, "2026-11-25T14:02:03Z")
                .hardware(99, 3, "2026-11-25T14:02:03Z");
        assertThat(facts())
                .containsEntry("hardware-error", "corrected")
                .containsEntry("hardware-errors", "0 fatal, 2 corrected");

        log.hardware(1, 2, "2026-11-25T14:02:04Z").hardware(20, 2, "2026-11-25T14:02:04Z");
        assertThat(facts())
                .containsEntry("hardware-error", "fatal")
                .containsEntry("hardware-errors", "2 fatal, 2 corrected");
    }

    @Test
    void driverResetsShortlyBeforeAreCounted() {
        log.other("Display", 4101, "2026-11-25T13:59:00Z")
                .other("Display", 4101, "2026-11-25T13:59:10Z")
                .unexpected("2026-11-25T14:02:00Z", Map.of())
                .started("2026-11-25T14:02:00Z");

        assertThat(facts()).containsEntry("display-resets", "2");
    }

    /** 19 is a corrected hardware error of one provider and an installed update of another. */
    @Test
    void numberOfAnotherProviderSaysNothing() {
        log.other("Microsoft-Windows-WindowsUpdateClient", 41, "2026-11-25T14:02:00Z")
                .other("Microsoft-Windows-WindowsUpdateClient", 6006, "2026-11-25T14:02:00Z");

        assertThat(facts()).containsEntry("same-boot", "yes");
    }

    @Test
    void logThatDoesNotAnswerLeavesEveryCauseOpen() {
        Map<String, String> facts = new WindowsEvidence(
                        (query, most, limit) -> SystemLog.Answer.none("no answer within 1000 ms"),
                        Duration.ofSeconds(1))
                .facts(Optional.of(LAST_SAMPLE));

        assertThat(facts).containsOnlyKeys("not-learned");
        assertThat(ending(facts).open()).hasSize(EndCause.values().length);
    }

    @Test
    void incompleteAnswerNeverExcludesAnOrderlyEnd() {
        log.started("2026-11-25T14:02:00Z").notLearned("the time limit came first");

        assertThat(facts()).doesNotContainKeys("system-log", "thermal-message").containsKey("not-learned");
        assertThat(ending(facts()).excluded()).doesNotContainKey(EndCause.ORDERLY_SHUTDOWN);
    }

    @Test
    void hostileTextsAmongTheEventsAreCountedAndTheRestIsRead() {
        log.raw("<!DOCTYPE Event [<!ENTITY x SYSTEM 'file:///etc/passwd'>]><Event>&x;</Event>")
                .raw("<Event")
                .unexpected("2026-11-25T14:02:00Z", Map.of("BugcheckCode", "292"))
                .started("2026-11-25T14:02:00Z");

        assertThat(facts())
                .containsEntry("crash-store", "panic")
                .hasEntrySatisfying(
                        "not-learned", t -> assertThat(t).contains("1 event: ").doesNotContain("root:"));
    }

    @Test
    void throughThePortAnUntrustedClockCountsAsNoTime() {
        log.unexpected("2026-11-25T14:02:00Z", Map.of()).started("2026-11-25T14:02:00Z");
        WindowsEvidence evidence = new WindowsEvidence(log, Duration.ofSeconds(1));

        assertThat(evidence.gather(new LastBoot("", Optional.of(LAST_SAMPLE), true, List.of())))
                .containsEntry("off-seconds", "90.000");
        assertThat(evidence.gather(new LastBoot("", Optional.of(LAST_SAMPLE), false, List.of())))
                .containsEntry("same-boot", "no")
                .doesNotContainKey("off-seconds");
        assertThat(evidence.quality()).singleElement().matches(Quality::there);
    }

    @Test
    void onASystemWithoutTheLibraryNothingIsLearnedAndNothingIsThrown() {
        Map<String, String> facts =
                new WindowsEvidence(Path.of("/nowhere/Windows"), Duration.ofSeconds(1)).facts(Optional.of(LAST_SAMPLE));

        assertThat(facts.get("not-learned")).contains("no system event log on this system");
    }

    /** A file that is no library: loading fails, and the answer says so. */
    @Test
    void libraryThatCannotBeLoadedIsSaid(@org.junit.jupiter.api.io.TempDir Path root) throws java.io.IOException {
        java.nio.file.Files.createDirectories(root.resolve("System32"));
        java.nio.file.Files.writeString(root.resolve("System32/wevtapi.dll"), "no library");

        assertThat(new WindowsEvidence(root, Duration.ofSeconds(20))
                        .facts(Optional.of(LAST_SAMPLE))
                        .get("not-learned"))
                .contains("wevtapi.dll cannot be used");
    }

    /** Documents "Query Schema" and "Consuming Events": one Path, one Select a provider, fewer than 20 expressions each. */
    @Test
    void queriesAreWellFormedAndWithinTheLimitOfExpressions() throws Exception {
        var reader = javax.xml.stream.XMLInputFactory.newDefaultFactory()
                .createXMLStreamReader(new java.io.StringReader(Kind.endQuery()));
        int selects = 0;
        while (reader.hasNext()) {
            if (reader.next() == javax.xml.stream.XMLStreamConstants.START_ELEMENT
                    && reader.getLocalName().equals("Select")) {
                selects++;
                assertThat(reader.getElementText().split("=", -1).length - 1).isLessThan(20);
            }
        }
        assertThat(selects).isEqualTo(10);
        assertThat(Kind.hardwareQuery())
                .contains("Microsoft-Windows-WHEA-Logger")
                .doesNotContain("EventID");
    }
}

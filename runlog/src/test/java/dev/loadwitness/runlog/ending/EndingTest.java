// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.ending;

import static dev.loadwitness.runlog.ending.EndCause.AGENT_CRASHED;
import static dev.loadwitness.runlog.ending.EndCause.AGENT_KILLED;
import static dev.loadwitness.runlog.ending.EndCause.FIRMWARE_RESET;
import static dev.loadwitness.runlog.ending.EndCause.HARD_HANG;
import static dev.loadwitness.runlog.ending.EndCause.KERNEL_CRASH;
import static dev.loadwitness.runlog.ending.EndCause.ORDERLY_RESTART;
import static dev.loadwitness.runlog.ending.EndCause.ORDERLY_SHUTDOWN;
import static dev.loadwitness.runlog.ending.EndCause.POWER_BUTTON_HELD;
import static dev.loadwitness.runlog.ending.EndCause.POWER_LOSS;
import static dev.loadwitness.runlog.ending.EndCause.THERMAL_TRIP;
import static dev.loadwitness.runlog.ending.EndCause.WATCHDOG_RESET;
import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.Word;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.EnumSet;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.Set;
import java.util.stream.Collectors;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

/** The rules of docs/interruptions.md, whose reasons are there. */
final class EndingTest {
    /** No record of any kind: what a cut supply, a hang and a reset by firmware have in common. */
    private static final Set<EndCause> SILENT =
            EnumSet.of(POWER_LOSS, HARD_HANG, FIRMWARE_RESET, WATCHDOG_RESET, THERMAL_TRIP, POWER_BUTTON_HELD);

    @ParameterizedTest(name = "{0}")
    @CsvSource(delimiter = '|', textBlock = """
        nothing learned              | -                                                                     | -                    | -
        cut under good evidence      | same-boot=no system-log=none login-records=none crash-store=empty off-seconds=8 | -          | kernel-crash orderly-shutdown orderly-restart agent-killed agent-crashed
        cut, journal only            | same-boot=no system-log=none system-log-seconds=-3                    | -                    | orderly-shutdown orderly-restart agent-killed agent-crashed
        cut, wtmp only               | same-boot=no login-records=none                                       | -                    | orderly-shutdown orderly-restart
        cut, pstore only             | same-boot=no crash-store=empty                                        | -                    | kernel-crash
        journal runs on              | same-boot=no system-log=none system-log-seconds=1800 off-seconds=1810 | -                    | orderly-shutdown orderly-restart
        panic                        | same-boot=no system-log=none crash-store=panic off-seconds=5          | kernel-crash         | power-loss hard-hang firmware-reset watchdog-reset thermal-trip power-button-held orderly-shutdown orderly-restart agent-killed agent-crashed
        oops                         | same-boot=no system-log=none crash-store=oops                         | -                    | orderly-shutdown orderly-restart
        old crash record             | same-boot=no crash-store=old                                          | -                    | -
        undated crash record         | same-boot=no crash-store=undated                                      | -                    | -
        shut down                    | same-boot=no system-log=shutdown login-records=shutdown system-log-seconds=2 | orderly-shutdown | power-loss hard-hang firmware-reset watchdog-reset thermal-trip power-button-held kernel-crash orderly-restart agent-killed agent-crashed
        restarted                    | same-boot=no system-log=restart system-log-seconds=2                  | orderly-restart      | power-loss hard-hang firmware-reset watchdog-reset thermal-trip power-button-held kernel-crash orderly-shutdown agent-killed agent-crashed
        orderly, kind not told       | same-boot=no system-log=stopped off-seconds=9                         | -                    | power-loss hard-hang firmware-reset watchdog-reset thermal-trip power-button-held kernel-crash agent-killed agent-crashed
        orderly by wtmp alone        | same-boot=no login-records=shutdown off-seconds=9                     | -                    | power-loss hard-hang firmware-reset watchdog-reset thermal-trip power-button-held kernel-crash agent-killed agent-crashed
        wtmp against journal         | same-boot=no login-records=shutdown system-log=none                   | -                    | -
        journal against wtmp         | same-boot=no login-records=none system-log=restart                    | orderly-restart      | orderly-shutdown
        shut down because of heat    | same-boot=no system-log=shutdown thermal-message=yes asked-by=thermal | thermal-trip orderly-shutdown | power-loss hard-hang firmware-reset watchdog-reset power-button-held kernel-crash orderly-restart
        heat, then cut               | same-boot=no system-log=none thermal-message=yes                      | thermal-trip         | orderly-shutdown orderly-restart
        crash during a restart       | same-boot=no system-log=restart crash-store=panic                     | kernel-crash orderly-restart | power-loss hard-hang firmware-reset watchdog-reset thermal-trip power-button-held orderly-shutdown
        watchdog by its driver       | same-boot=no watchdog=reset                                           | watchdog-reset       | -
        watchdog tells nothing       | same-boot=no watchdog=none                                            | -                    | -
        supply low by the watchdog   | same-boot=no watchdog=under-voltage                                   | power-loss           | -
        new reset reason             | same-boot=no reset-reason=thermal,software reset-reason-before=software | thermal-trip       | -
        left-over reset reason       | same-boot=no reset-reason=thermal reset-reason-before=thermal,other   | -                    | -
        reset reason, age not known  | same-boot=no reset-reason=thermal                                     | -                    | -
        button by the register       | same-boot=no reset-reason=power-button reset-reason-before=none       | power-button-held    | -
        sync flood                   | same-boot=no reset-reason=hardware-error reset-reason-before=none     | firmware-reset       | -
        brown-out                    | same-boot=no reset-reason=under-voltage reset-reason-before=none      | power-loss           | -
        fatal hardware error         | same-boot=no hardware-error=fatal                                     | firmware-reset       | -
        corrected hardware error     | same-boot=no hardware-error=corrected                                 | -                    | -
        button held                  | same-boot=no power-button=held system-log=none                        | power-button-held    | orderly-shutdown orderly-restart
        agent killed                 | same-boot=yes agent-crash=none                                        | agent-killed         | MACHINE agent-crashed
        agent out of memory          | same-boot=yes agent-crash=none agent-killed=out-of-memory             | agent-killed         | MACHINE agent-crashed
        agent crashed                | same-boot=yes agent-crash=report                                      | agent-crashed        | MACHINE agent-killed
        agent ended, not told how    | same-boot=yes                                                         | -                    | MACHINE
        agent crashed, then a boot   | same-boot=no agent-crash=report                                       | agent-crashed        | -
        boot id not known            | system-log=none crash-store=empty off-seconds=8                       | -                    | kernel-crash orderly-shutdown orderly-restart
        words of a newer version     | same-boot=perhaps system-log=melted watchdog=7 off-seconds=soon new=x | -                    | -
        """)
    void evidenceShowsAndExcludes(String name, String facts, String shown, String excluded) {
        Ending ending = Ending.of(facts(facts));

        assertThat(ending.shown().keySet()).isEqualTo(causes(shown));
        assertThat(ending.excluded().keySet()).isEqualTo(causes(excluded));
    }

    /** 17,010 combinations against what the document says, written a second time and differently. */
    @Test
    void whateverIsKnownEachCauseStandsOnceAndForTheReasonsOfTheDocument() {
        List<Map<String, String>> all = List.of(Map.of());
        all = times(all, Fact.SAME_BOOT, "yes", "no");
        all = times(all, Fact.SYSTEM_LOG, "shutdown", "restart", "stopped", "none");
        all = times(all, Fact.LOGIN_RECORDS, "shutdown", "none");
        all = times(all, Fact.CRASH_STORE, "empty", "panic", "oops", "old", "undated", "hardware-error");
        all = times(all, Fact.THERMAL_MESSAGE, "yes", "no");
        all = times(all, Fact.WATCHDOG, "reset", "overheat", "under-voltage", "none", "absent");
        all = times(all, Fact.AGENT_CRASH, "report", "none");
        assertThat(all).hasSize(3 * 5 * 3 * 7 * 3 * 6 * 3);
        for (Map<String, String> facts : all) {
            Ending ending = Ending.of(facts);
            for (EndCause cause : EndCause.values()) {
                assertThat((ending.shown().containsKey(cause) ? 1 : 0)
                                + (ending.open().containsKey(cause) ? 1 : 0)
                                + (ending.excluded().containsKey(cause) ? 1 : 0))
                        .as("%s under %s", cause, facts)
                        .isOne();
                assertThat(ending.excluded().containsKey(cause))
                        .as("%s excluded under %s", cause, facts)
                        .isEqualTo(
                                mayBeExcluded(cause, facts) && !ending.shown().containsKey(cause));
            }
            assertThat(ending.excluded().size()).as("%s", facts).isLessThan(EndCause.values().length);
        }
    }

    private static boolean mayBeExcluded(EndCause cause, Map<String, String> facts) {
        String log = facts.getOrDefault("system-log", "?");
        String logins = facts.getOrDefault("login-records", "?");
        if ("yes".equals(facts.get("same-boot"))) {
            return switch (cause) {
                case AGENT_KILLED -> "report".equals(facts.get("agent-crash"));
                case AGENT_CRASHED -> "none".equals(facts.get("agent-crash"));
                default -> true;
            };
        }
        boolean inOrder =
                !log.equals("none") && !logins.equals("none") && (!log.equals("?") || logins.equals("shutdown"));
        boolean panic = "panic".equals(facts.get("crash-store"));
        return switch (cause) {
            case AGENT_KILLED, AGENT_CRASHED -> false; // nothing here says when the agent ended
            case ORDERLY_SHUTDOWN -> panic || log.equals("restart") || neverInOrder(log, logins);
            case ORDERLY_RESTART -> panic || log.equals("shutdown") || neverInOrder(log, logins);
            case KERNEL_CRASH -> "empty".equals(facts.get("crash-store")) || inOrder;
            default -> panic || inOrder;
        };
    }

    private static boolean neverInOrder(String log, String logins) {
        return (log.equals("none") && !logins.equals("shutdown")) || (log.equals("?") && logins.equals("none"));
    }

    @Test
    void withoutEvidenceNothingIsExcludedWhateverElseIsKnown() {
        assertThat(Ending.of(Map.of()).excluded()).isEmpty();
        assertThat(Ending.of(Map.of()).open()).hasSize(EndCause.values().length);
    }

    @Test
    void whatLeavesNoRecordStaysOpenUnderTheBestEvidenceOfACut() {
        Ending ending = Ending.of(facts(
                "same-boot=no system-log=none login-records=none crash-store=empty watchdog=none thermal-message=no"
                        + " reset-reason=none reset-reason-before=none hardware-error=none off-seconds=4"
                        + " system-log-seconds=0.5"));

        assertThat(ending.shown()).isEmpty();
        assertThat(ending.open().keySet()).isEqualTo(SILENT);
        assertThat(ending.by()).contains(EndCause.By.MACHINE);
    }

    @Test
    void eachClauseNamesItsEvidence() {
        Ending ending = Ending.of(
                facts("same-boot=no system-log=none login-records=none crash-store=panic off-seconds=7.6 asleep=yes"
                        + " reset-reason=watchdog reset-reason-before=none"));
        assertThat(ending.shown()).containsEntry(KERNEL_CRASH, "the kernel left a crash record");
        assertThat(ending.shown().get(WATCHDOG_RESET))
                .contains("reset register")
                .contains("watchdog");
        assertThat(ending.excluded().get(ORDERLY_SHUTDOWN)).contains("log").contains("login");
        assertThat(Ending.of(facts("same-boot=no off-seconds=7.6 asleep=yes"))
                        .open()
                        .get(POWER_LOSS))
                .contains("gone to sleep")
                .contains("8 s after the last sample");
    }

    @Test
    void itLiesWithTheMachineAsLongAsNothingElseIsShown() {
        assertThat(by("same-boot=no system-log=none")).contains(EndCause.By.MACHINE);
        assertThat(by("same-boot=no system-log=restart")).contains(EndCause.By.SYSTEM);
        assertThat(by("same-boot=no system-log=stopped off-seconds=3")).contains(EndCause.By.SYSTEM);
        assertThat(by("same-boot=no system-log=shutdown thermal-message=yes")).contains(EndCause.By.MACHINE);
        assertThat(by("same-boot=no system-log=none power-button=held")).contains(EndCause.By.OPERATOR);
        assertThat(by("same-boot=yes")).contains(EndCause.By.WITNESS);
    }

    private static Optional<EndCause.By> by(String facts) {
        return Ending.of(facts(facts)).by();
    }

    private static List<Map<String, String>> times(List<Map<String, String>> all, Fact fact, String... words) {
        List<Map<String, String>> product = new ArrayList<>(all);
        for (String word : words) {
            for (Map<String, String> facts : all) {
                Map<String, String> more = new LinkedHashMap<>(facts);
                more.put(fact.word(), word);
                product.add(more);
            }
        }
        return product;
    }

    /** A misspelt fact would test nothing. */
    private static Map<String, String> facts(String text) {
        Map<String, String> facts = new LinkedHashMap<>();
        if (!text.equals("-")) {
            for (String fact : text.split(" ", -1)) {
                String[] pair = fact.split("=", 2);
                assertThat(Word.find(Fact.class, pair[0]).isPresent() || pair[0].equals("new"))
                        .as(fact)
                        .isTrue();
                facts.put(pair[0], pair[1]);
            }
        }
        return facts;
    }

    private static Set<EndCause> causes(String text) {
        Set<EndCause> causes = EnumSet.noneOf(EndCause.class);
        for (String word : text.equals("-") ? new String[0] : text.split(" ", -1)) {
            if (word.equals("MACHINE")) {
                causes.addAll(Arrays.stream(EndCause.values())
                        .filter(c -> c != AGENT_KILLED && c != AGENT_CRASHED)
                        .collect(Collectors.toSet()));
            } else {
                causes.add(Word.find(EndCause.class, word).orElseThrow());
            }
        }
        return causes;
    }
}

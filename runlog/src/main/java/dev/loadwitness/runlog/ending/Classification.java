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

import java.util.Arrays;
import java.util.EnumMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;

/**
 * The rules of docs/interruptions.md. Every cause begins open; a fact shows it or excludes it; what is not learned does
 * neither. What is shown is never excluded by another rule: a machine that got too hot and was shut down in order for it
 * shows both.
 */
final class Classification {
    /**
     * Common practice, no source: an agent that gave its last sample so short a time before the system's last sign, or
     * before the next start, is taken to have lived as long as the machine.
     */
    static final double TOGETHER_SECONDS = 60;

    private static final String OPEN = "nothing excludes it";

    private final Map<String, String> facts;
    private final Map<EndCause, String> shown = new EnumMap<>(EndCause.class);
    private final Map<EndCause, String> open = new EnumMap<>(EndCause.class);
    private final Map<EndCause, String> excluded = new EnumMap<>(EndCause.class);

    private Classification(Map<String, String> facts) {
        this.facts = facts;
    }

    static Ending of(Map<String, String> facts) {
        Classification c = new Classification(facts);
        if (c.is(Fact.SAME_BOOT, Found.YES)) {
            c.machineRanOn();
        } else {
            c.crash();
            c.heat();
            c.watchdog();
            c.resetReasons();
            c.firmware();
            c.button();
            c.orderly();
            c.supplyAndHang();
            c.witnessOfAnotherBoot();
        }
        for (EndCause cause : EndCause.values()) {
            c.open.putIfAbsent(cause, OPEN);
        }
        c.excluded.keySet().removeAll(c.shown.keySet());
        c.open.keySet().removeAll(c.shown.keySet());
        c.open.keySet().removeAll(c.excluded.keySet());
        return new Ending(c.shown, c.open, c.excluded);
    }

    private void machineRanOn() {
        for (EndCause cause : EndCause.values()) {
            if (cause.by() != EndCause.By.WITNESS) {
                excluded.put(cause, "the machine is still in the same boot");
            }
        }
        if (is(Fact.AGENT_KILLED, Found.OUT_OF_MEMORY)) {
            shown.put(AGENT_KILLED, "the kernel ended it for want of memory");
        }
        if (is(Fact.AGENT_CRASH, Found.REPORT)) {
            shown.put(AGENT_CRASHED, "its Java left a crash report");
            excluded.put(AGENT_KILLED, "its Java left a crash report");
        } else if (is(Fact.AGENT_CRASH, Found.NONE)) {
            excluded.put(AGENT_CRASHED, "its Java left no crash report where it writes one");
            shown.putIfAbsent(AGENT_KILLED, "the log broke off in the middle of a boot, and there is no crash report");
        } else {
            open.put(AGENT_KILLED, "the log broke off in the middle of a boot");
            open.put(AGENT_CRASHED, "the log broke off in the middle of a boot");
        }
    }

    private void crash() {
        String record = text(Fact.CRASH_RECORD).map(r -> " (" + r + ")").orElse("");
        switch (found(Fact.CRASH_STORE)) {
            case "panic" -> {
                shown.put(KERNEL_CRASH, "the kernel left a crash record" + record);
                for (EndCause other : List.of(
                        POWER_LOSS,
                        HARD_HANG,
                        FIRMWARE_RESET,
                        WATCHDOG_RESET,
                        THERMAL_TRIP,
                        POWER_BUTTON_HELD,
                        ORDERLY_SHUTDOWN,
                        ORDERLY_RESTART)) {
                    excluded.put(other, "the kernel had given up before: crash record" + record);
                }
            }
            case "empty" ->
                excluded.put(
                        KERNEL_CRASH, "the store for crash records was there and holds no record, or none of a crash");
            case "oops" -> open.put(KERNEL_CRASH, "the kernel recorded a fault that need not end it" + record);
            case "hardware-error" -> open.put(KERNEL_CRASH, "a hardware error was recorded" + record);
            case "old" -> open.put(KERNEL_CRASH, "the store for crash records holds only older ones");
            case "undated" -> open.put(KERNEL_CRASH, "there is a crash record, and its age is not known" + record);
            default -> open.put(KERNEL_CRASH, "no store for crash records was read");
        }
    }

    private void heat() {
        open.put(
                THERMAL_TRIP,
                is(Fact.THERMAL_MESSAGE, Found.NO)
                        ? "the kernel announced none, but hardware can trip by itself and leave no message"
                        : "hardware can trip by itself and leave no message");
        if (is(Fact.THERMAL_MESSAGE, Found.YES)) {
            shown.put(THERMAL_TRIP, "the kernel said that a critical temperature was reached");
        }
    }

    private void watchdog() {
        switch (found(Fact.WATCHDOG)) {
            case "reset" -> shown.put(WATCHDOG_RESET, "the watchdog's driver says that it reset the machine");
            case "overheat" -> shown.put(THERMAL_TRIP, "the watchdog's driver says that the machine was too hot");
            case "under-voltage" -> shown.put(POWER_LOSS, "the watchdog's driver says that the supply was too low");
            case "none" ->
                open.put(WATCHDOG_RESET, "the watchdog's driver tells of no reset, which not every driver can");
            case "absent" ->
                open.put(WATCHDOG_RESET, "the system knows of no watchdog, but firmware may have one of its own");
            default -> {
                // not learned
            }
        }
    }

    /** A reason is evidence only if that boot began without it: bits stay set until something clears them. */
    private void resetReasons() {
        for (String reason : words(Fact.RESET_REASON)) {
            EndCause cause =
                    switch (reason) {
                        case "thermal" -> THERMAL_TRIP;
                        case "watchdog" -> WATCHDOG_RESET;
                        case "power-button" -> POWER_BUTTON_HELD;
                        case "under-voltage" -> POWER_LOSS;
                        case "hardware-error", "reset-line" -> FIRMWARE_RESET;
                        default -> null; // none, software, other: speak for no cause
                    };
            if (cause == null) {
                continue;
            }
            String named =
                    "the reset register names it (" + text(Fact.RESET_TEXT).orElse(reason) + ")";
            if (text(Fact.RESET_REASON_BEFORE).isEmpty()) {
                open.put(cause, named + ", perhaps from an earlier reset");
            } else if (words(Fact.RESET_REASON_BEFORE).contains(reason)) {
                open.put(cause, named + ", but did so one boot before too");
            } else {
                shown.merge(cause, named, (first, second) -> first);
            }
        }
    }

    private void firmware() {
        open.putIfAbsent(FIRMWARE_RESET, "can leave no record");
        if (is(Fact.HARDWARE_ERROR, Found.FATAL)) {
            shown.putIfAbsent(FIRMWARE_RESET, "firmware kept the record of a fatal hardware error");
        } else if (is(Fact.HARDWARE_ERROR, Found.NONE)) {
            open.merge(FIRMWARE_RESET, "no hardware error was kept", (a, b) -> a + "; " + b);
        }
    }

    private void button() {
        open.putIfAbsent(POWER_BUTTON_HELD, "holding it leaves no record");
        if (is(Fact.POWER_BUTTON, Found.HELD)) {
            shown.putIfAbsent(POWER_BUTTON_HELD, "the system was told that the button was held");
        }
    }

    private void orderly() {
        String log = found(Fact.SYSTEM_LOG);
        String logins = found(Fact.LOGIN_RECORDS);
        boolean logSaysOrderly = log.equals("shutdown") || log.equals("restart") || log.equals("stopped");
        boolean contradicted =
                (logSaysOrderly && logins.equals("none")) || (logins.equals("shutdown") && log.equals("none"));
        String asked =
                switch (found(Fact.ASKED_BY)) {
                    case "power-button" -> ", asked by the power button";
                    case "user" -> ", asked by a person or a program";
                    case "thermal" -> ", asked by the kernel because of heat";
                    default -> "";
                };
        if (log.equals("shutdown") || log.equals("restart")) {
            boolean restart = log.equals("restart");
            shown.put(restart ? ORDERLY_RESTART : ORDERLY_SHUTDOWN, "the system's log records it" + asked);
            excluded.put(
                    restart ? ORDERLY_SHUTDOWN : ORDERLY_RESTART,
                    "the system's log records a " + (restart ? "restart" : "shutdown"));
        } else if (logSaysOrderly || logins.equals("shutdown")) {
            String by = logSaysOrderly ? "the system's log was stopped in order" : "the login records have a shutdown";
            String clause =
                    by + (contradicted ? ", but the system's log breaks off" : "; which of the two is not told");
            open.put(ORDERLY_SHUTDOWN, clause + asked);
            open.put(ORDERLY_RESTART, clause + asked);
        } else if (log.equals("none") || logins.equals("none")) {
            String clause = log.equals("none") && logins.equals("none")
                    ? "neither the system's log nor the login records have a shutdown"
                    : log.equals("none")
                            ? "the system's log of that boot breaks off without a shutdown"
                            : "the login records have no shutdown";
            excluded.put(ORDERLY_SHUTDOWN, clause);
            excluded.put(ORDERLY_RESTART, clause);
        } else {
            open.putIfAbsent(ORDERLY_SHUTDOWN, "no record of the system was read");
            open.putIfAbsent(ORDERLY_RESTART, "no record of the system was read");
        }
        if ((logSaysOrderly || logins.equals("shutdown")) && !contradicted) {
            for (EndCause other : List.of(
                    POWER_LOSS,
                    HARD_HANG,
                    FIRMWARE_RESET,
                    WATCHDOG_RESET,
                    KERNEL_CRASH,
                    THERMAL_TRIP,
                    POWER_BUTTON_HELD)) {
                excluded.putIfAbsent(other, "an orderly end is on record");
            }
        }
    }

    private void supplyAndHang() {
        String sleeping = is(Fact.ASLEEP, Found.YES) ? "; the machine had gone to sleep" : "";
        String again = seconds(Fact.OFF_SECONDS).stream()
                .mapToObj(s -> "; the next start came " + Math.round(s) + " s after the last sample")
                .findFirst()
                .orElse("");
        open.put(POWER_LOSS, "leaves no record" + sleeping + again);
        open.put(HARD_HANG, "leaves no record, and ends when somebody switches off" + again);
    }

    /** Another boot: the machine did not run on, unless something says that it did for a while. */
    private void witnessOfAnotherBoot() {
        if (!is(Fact.SAME_BOOT, Found.NO)) {
            return; // not learned
        }
        OptionalDouble log = seconds(Fact.SYSTEM_LOG_SECONDS);
        OptionalDouble off = seconds(Fact.OFF_SECONDS);
        String clause;
        if (log.isPresent() && log.getAsDouble() > TOGETHER_SECONDS) {
            clause = "the system's log goes on for " + Math.round(log.getAsDouble()) + " s after the last sample";
        } else if (off.isPresent() && off.getAsDouble() <= TOGETHER_SECONDS) {
            clause = "the next boot began " + Math.round(off.getAsDouble()) + " s after the last sample";
        } else if (log.isPresent()) {
            clause = "the machine started again, and its log does not go on after the last sample";
        } else {
            clause = "the machine started again, perhaps long after the agent ended";
        }
        boolean together = (log.isPresent() && log.getAsDouble() <= TOGETHER_SECONDS)
                || (log.isEmpty() && off.isPresent() && off.getAsDouble() <= TOGETHER_SECONDS);
        for (EndCause cause : List.of(AGENT_KILLED, AGENT_CRASHED)) {
            (together ? excluded : open).put(cause, clause);
        }
        if (is(Fact.AGENT_CRASH, Found.REPORT)) {
            shown.put(AGENT_CRASHED, "its Java left a crash report");
        }
    }

    private boolean is(Fact fact, Found found) {
        return found(fact).equals(found.word());
    }

    private String found(Fact fact) {
        return text(fact).orElse("");
    }

    private Optional<String> text(Fact fact) {
        return Optional.ofNullable(facts.get(fact.word())).map(String::strip).filter(t -> !t.isEmpty());
    }

    private List<String> words(Fact fact) {
        return text(fact)
                .map(t -> Arrays.stream(t.split(",", -1)).map(String::strip).toList())
                .orElse(List.of());
    }

    /** Empty too if what stands there is no number. */
    private OptionalDouble seconds(Fact fact) {
        try {
            double value = Double.parseDouble(text(fact).orElse(""));
            return Double.isFinite(value) ? OptionalDouble.of(value) : OptionalDouble.empty();
        } catch (NumberFormatException e) {
            return OptionalDouble.empty();
        }
    }
}

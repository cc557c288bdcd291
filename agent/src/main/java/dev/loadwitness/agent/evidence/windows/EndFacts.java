// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.windows;

import dev.loadwitness.agent.evidence.windows.Boots.Boot;
import dev.loadwitness.agent.evidence.windows.WindowsEvidence.Taken;
import java.time.DateTimeException;
import java.time.Instant;
import java.time.LocalDateTime;
import java.time.ZoneOffset;
import java.time.temporal.ChronoUnit;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Optional;

/** From events to the facts of one end. */
final class EndFacts {
    private static final String SYSTEM = "S-1-5-18";

    /** Names of codes that a repair meets, from the vendor's bug-check pages; the number is always there too. */
    private static final Map<Long, String> BUG_CHECKS = Map.of(
            0x9fL, "DRIVER_POWER_STATE_FAILURE",
            0x116L, "VIDEO_TDR_FAILURE",
            0x119L, "VIDEO_SCHEDULER_INTERNAL_ERROR",
            0x124L, "WHEA_UNCORRECTABLE_ERROR",
            0x1c8L, "MANUALLY_INITIATED_POWER_BUTTON_HOLD");

    /** A stop that a person brings about by holding the button; no fault of the kernel. */
    private static final long BUTTON_HELD = 0x1c8;

    private final Map<String, String> facts = new LinkedHashMap<>();

    private EndFacts() {}

    static Map<String, String> of(Taken ends, Taken hardware, Optional<Instant> lastSample) {
        EndFacts all = new EndFacts();
        all.facts.put("event-log", learned(ends));
        if (!ends.events().isEmpty()) {
            all.end(ends, lastSample);
        }
        all.hardware(hardware, lastSample);
        return all.facts;
    }

    private static String learned(Taken taken) {
        if (taken.events().isEmpty()) {
            return "not learned: " + (taken.notLearned().isEmpty() ? "no such event is kept" : taken.notLearned());
        }
        String read = taken.events().size() + " events read";
        return taken.notLearned().isEmpty() ? read : read + "; not learned: " + taken.notLearned();
    }

    private void end(Taken ends, Optional<Instant> lastSample) {
        Boots boots = new Boots(ends.events());
        Optional<Integer> next =
                lastSample.isPresent() ? boots.firstAfter(lastSample.get()) : Optional.of(boots.count() - 1);
        if (next.isEmpty()) {
            facts.put("restart", "none since the last sample");
            Boot now = boots.get(boots.count() - 1);
            sleep(now, lastSample);
            asked(now, lastSample);
            return;
        }
        Boot after = boots.get(next.get());
        facts.put("restart", after.start().map(t -> "at " + text(t)).orElse("at an unknown time"));
        int starts = boots.count() - next.get();
        if (starts > 1) {
            facts.put("starts-since", Integer.toString(starts));
        }
        if (boots.clockWentBack()) {
            facts.put("clock", "went back before the newest start; order by record number");
        }
        reports(after);
        if (next.get() == 0) {
            facts.put(
                    "shutdown-record",
                    "not learned: the log begins after the end"
                            + (ends.full() ? ", because more than asked for came" : ""));
            return;
        }
        before(boots.get(next.get() - 1), lastSample);
    }

    /** What the next start says about the end before it. */
    private void reports(Boot after) {
        Optional<Event> restart = after.last(Kind.UNEXPECTED_RESTART);
        restart.ifPresentOrElse(
                e -> facts.put("unexpected-restart", "recorded (Kernel-Power 41)"),
                () -> facts.put("unexpected-restart", "not recorded"));
        Optional<Long> code = bugCheck(restart, after.last(Kind.BUG_CHECK));
        facts.put(
                "bug-check",
                code.filter(c -> c != 0 && c != BUTTON_HELD)
                        .map(EndFacts::bugCheckText)
                        .orElse(code.isPresent() || restart.isPresent() ? "none recorded" : "not learned"));
        button(restart, code);
        if (after.last(Kind.WATCHDOG_RESET).isPresent()) {
            facts.put("watchdog", "reset by the hardware watchdog (Kernel-Power 142)");
        }
        restart.flatMap(e -> e.data("SleepInProgress"))
                .filter(v -> !v.equals("0") && !v.equalsIgnoreCase("false"))
                .ifPresent(v -> facts.put("sleep", "a sleep transition was in progress"));
        after.last(Kind.DIRTY_SHUTDOWN).ifPresent(e -> {
            facts.put("dirty-shutdown", "recorded (EventLog 6008)");
            lastAlive(e.binary()).ifPresent(t -> facts.put("alive-until", text(t)));
        });
    }

    /** Event 41 gives the code as a decimal number (document A); event 1001 as "0x00000116 (0x..., ...)". */
    private static Optional<Long> bugCheck(Optional<Event> restart, Optional<Event> report) {
        Optional<Long> told = report.flatMap(e -> e.data("param1").or(() -> e.data(0)))
                .map(v -> v.split("[ (]", 2)[0])
                .flatMap(v -> v.toLowerCase(Locale.ROOT).startsWith("0x") ? number(v.substring(2), 16) : number(v, 10));
        return told.filter(c -> c != 0)
                .or(() -> restart.flatMap(e -> e.data("BugcheckCode")).flatMap(v -> number(v, 10)));
    }

    private static String bugCheckText(long code) {
        String name = BUG_CHECKS.getOrDefault(code, "");
        return String.format(Locale.ROOT, "0x%08x", code) + (name.isEmpty() ? "" : " " + name);
    }

    /** Held for four seconds or more, its time is in event 41 (document A); newer versions also say so outright. */
    private void button(Optional<Event> restart, Optional<Long> code) {
        Optional<Long> stamp =
                restart.flatMap(e -> e.data("PowerButtonTimestamp")).flatMap(v -> number(v, 10));
        boolean held = stamp.filter(t -> t != 0).isPresent()
                || restart.flatMap(e -> e.data("LongPowerButtonPressDetected"))
                        .filter("true"::equalsIgnoreCase)
                        .isPresent()
                || code.filter(c -> c == BUTTON_HELD).isPresent();
        if (held) {
            facts.put("power-button", "held down");
            stamp.flatMap(EndFacts::fileTime).ifPresent(t -> facts.put("power-button-time", text(t)));
        } else {
            facts.put("power-button", restart.isPresent() ? "not recorded" : "not learned");
        }
    }

    /** What the boot that ended wrote itself. */
    private void before(Boot boot, Optional<Instant> lastSample) {
        boolean orderly = boot.last(Kind.LOG_STOPPED).isPresent()
                || boot.last(Kind.SHUTTING_DOWN).isPresent();
        if (orderly) {
            Event end = boot.last(Kind.LOG_STOPPED)
                    .or(() -> boot.last(Kind.SHUTTING_DOWN))
                    .orElseThrow();
            facts.put(
                    "shutdown-record",
                    end.time().map(t -> "orderly end at " + text(t)).orElse("orderly end"));
            facts.put("shutdown-kind", kind(boot));
        } else {
            facts.put("shutdown-record", "none in the system event log");
        }
        asked(boot, lastSample);
        boot.last(Kind.THERMAL_SHUTDOWN)
                .or(() -> boot.last(Kind.THERMAL_HIBERNATION))
                .ifPresent(e -> facts.put("thermal", thermal(e)));
        sleep(boot, lastSample);
        long resets = boot.events().stream()
                .filter(Kind.DISPLAY_RESET::is)
                .filter(e -> since(e, lastSample.map(t -> t.minus(1, ChronoUnit.HOURS))))
                .count();
        if (resets > 0) {
            facts.put("display-resets", resets + " in the boot that ended, from an hour before the last sample on");
        }
    }

    /**
     * By the kernel's own event 109: {@code ShutdownActionType} is a POWER_ACTION (vendor's wdm.h, from memory: 4 shutdown,
     * 5 shutdown and reset, 6 shutdown and off; a captured restart has 5). Event 1074 says it in the language of the
     * system, so only its English words are known.
     */
    private static String kind(Boot boot) {
        String action = boot.last(Kind.SHUTDOWN_TRANSITION)
                .flatMap(e -> e.data("ShutdownActionType"))
                .orElse("");
        if (action.isEmpty()) {
            action = boot.last(Kind.ASKED)
                    .flatMap(e -> e.data("param5").or(() -> e.data(4)))
                    .orElse("")
                    .toLowerCase(Locale.ROOT);
        }
        return switch (action) {
            case "5", "restart" -> "restart";
            case "4", "6", "power off", "shutdown" -> "shutdown";
            default -> "not learned";
        };
    }

    private void asked(Boot boot, Optional<Instant> lastSample) {
        // A wish may come minutes before the end ("in ten minutes"), while samples are still taken.
        boot.last(Kind.ASKED)
                .filter(e -> since(e, lastSample.map(t -> t.minus(1, ChronoUnit.HOURS))))
                .ifPresent(e -> facts.put("asked-by", asked(e)));
    }

    /** Process and kind of account; the names of computer and person stay out. */
    private static String asked(Event event) {
        String path = event.data("param1").or(() -> event.data(0)).orElse("");
        String process = path.replaceFirst("\\s*\\([^()]*\\)$", "");
        process = process.substring(Math.max(process.lastIndexOf('\\'), process.lastIndexOf('/')) + 1);
        String who =
                event.user().isEmpty() ? "an unknown account" : event.user().equals(SYSTEM) ? "the system" : "a user";
        return (process.isEmpty() ? "an unknown process" : clean(process)) + " for " + who;
    }

    /** By the places in the message text of document C: %2 zone, %4 critical temperature in kelvin as the firmware gives it. */
    private static String thermal(Event event) {
        String what = Kind.THERMAL_SHUTDOWN.is(event) ? "shutdown" : "hibernation";
        return "critical " + what
                + event.data(1).map(z -> ", zone " + clean(z)).orElse("")
                + event.data(3).map(t -> ", _CRT or _HOT " + clean(t) + " K").orElse("");
    }

    private void sleep(Boot boot, Optional<Instant> lastSample) {
        Optional<Event> asleep = boot.last(Kind.SLEEP).filter(e -> since(e, lastSample));
        Optional<Event> awake = boot.last(Kind.RESUME);
        boolean still = asleep.isPresent()
                && (awake.isEmpty() || awake.get().recordId() < asleep.get().recordId());
        if (still) {
            facts.putIfAbsent(
                    "sleep",
                    asleep.get().time().map(t -> "entered at " + text(t)).orElse("entered") + ", no return recorded");
        } else if (asleep.isPresent()) {
            facts.putIfAbsent("sleep", "entered and left after the last sample");
        }
    }

    /**
     * Those that were written from an hour before the last sample on: a fatal one is often written by the next start, from
     * what the processor kept.
     */
    private void hardware(Taken hardware, Optional<Instant> lastSample) {
        if (hardware.events().isEmpty()) {
            facts.put(
                    "hardware-errors",
                    hardware.notLearned().isEmpty() ? "none recorded" : "not learned: " + hardware.notLearned());
            return;
        }
        Optional<Instant> from = lastSample.map(t -> t.minus(1, ChronoUnit.HOURS));
        List<Event> young =
                hardware.events().stream().filter(e -> since(e, from)).toList();
        long fatal =
                young.stream().filter(e -> Hardware.of(e) == Hardware.FATAL).count();
        long corrected =
                young.stream().filter(e -> Hardware.of(e) == Hardware.CORRECTED).count();
        String more = hardware.full() && young.size() == hardware.events().size() ? " or more" : "";
        facts.put(
                "hardware-errors",
                fatal + corrected == 0 ? "none recorded" : fatal + " fatal, " + corrected + " corrected" + more);
    }

    private static boolean since(Event event, Optional<Instant> from) {
        return from.isEmpty() || event.time().isEmpty() || !event.time().get().isBefore(from.get());
    }

    private static Optional<Long> number(String digits, int radix) {
        try {
            return Optional.of(Long.parseLong(digits.strip(), radix));
        } catch (NumberFormatException e) {
            return Optional.empty();
        }
    }

    /** Intervals of 100 ns since 1601; that the stamp is one is inferred from the sample in document A. */
    private static Optional<Instant> fileTime(long stamp) {
        Instant time = Instant.parse("1601-01-01T00:00:00Z").plus(stamp / 10, ChronoUnit.MICROS);
        boolean plausible = time.isAfter(Instant.parse("2006-01-01T00:00:00Z"))
                && time.isBefore(Instant.parse("2200-01-01T00:00:00Z"));
        return plausible ? Optional.of(time) : Optional.empty();
    }

    /**
     * The text of event 6008 gives date and time in the language of the system. Its binary data give them again: a
     * SYSTEMTIME (eight numbers of 16 bits: year, month, day of week, day, hour, minute, second, millisecond) in local
     * time, and the same in UTC. Inferred from six captured events whose texts agree; no document of the vendor says so.
     */
    static Optional<Instant> lastAlive(String binary) {
        if (binary.length() < 64 || !binary.substring(32, 64).matches("[0-9A-Fa-f]{32}")) {
            return Optional.empty();
        }
        int[] words = new int[8];
        for (int i = 0; i < 8; i++) {
            int at = 32 + 4 * i;
            words[i] = Integer.parseInt(binary.substring(at, at + 2), 16)
                    | Integer.parseInt(binary.substring(at + 2, at + 4), 16) << 8;
        }
        try {
            return Optional.of(LocalDateTime.of(words[0], words[1], words[3], words[4], words[5], words[6])
                    .toInstant(ZoneOffset.UTC)
                    .plusMillis(words[7]));
        } catch (DateTimeException e) {
            return Optional.empty();
        }
    }

    private static String text(Instant time) {
        return time.truncatedTo(ChronoUnit.MILLIS).toString();
    }

    /** Other programs may write such events: no control characters, no novels. */
    private static String clean(String value) {
        String plain = value.strip().replaceAll("[^\\p{L}\\p{N}\\p{P}\\p{S} ]", "");
        return plain.length() <= 80 ? plain : plain.substring(0, 80);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.windows;

import dev.loadwitness.agent.evidence.windows.Boots.Boot;
import dev.loadwitness.agent.evidence.windows.WindowsEvidence.Taken;
import dev.loadwitness.runlog.ending.Fact;
import dev.loadwitness.runlog.ending.Found;
import java.time.DateTimeException;
import java.time.Duration;
import java.time.Instant;
import java.time.LocalDateTime;
import java.time.ZoneOffset;
import java.time.temporal.ChronoUnit;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Optional;

/** From events to the facts of one end: those of {@link Fact}, and a few more that only people read. */
final class EndFacts {
    private static final String SYSTEM = "S-1-5-18";

    /** A stop that a person brings about by holding the button; no fault of the kernel. */
    private static final long BUTTON_HELD = 0x1c8;

    /** Names of codes that a repair meets, from the vendor's bug-check pages and headers; the number is always there too. */
    private static final Map<Long, String> BUG_CHECKS = Map.of(
            0x9fL,
            "DRIVER_POWER_STATE_FAILURE",
            0x116L,
            "VIDEO_TDR_FAILURE",
            0x119L,
            "VIDEO_SCHEDULER_INTERNAL_ERROR",
            0x124L,
            "WHEA_UNCORRECTABLE_ERROR",
            BUTTON_HELD,
            "MANUALLY_INITIATED_POWER_BUTTON_HOLD");

    /** An hour: a wish may be for later ("in ten minutes"), and driver resets announce themselves. */
    private static final Duration BEFORE = Duration.ofHours(1);

    /** Less than this after the last sample says nothing (common practice, no source). */
    private static final Duration STAMP = Duration.ofMinutes(1);

    private final Map<String, String> facts = new LinkedHashMap<>();
    private final List<String> notLearned = new ArrayList<>();
    private final Optional<Instant> lastSample;

    private EndFacts(Optional<Instant> lastSample) {
        this.lastSample = lastSample;
    }

    /** @param lastSample empty if the clock was not trusted */
    static Map<String, String> of(Taken ends, Taken hardware, Optional<Instant> lastSample) {
        EndFacts all = new EndFacts(lastSample);
        if (!ends.notLearned().isEmpty()) {
            all.notLearned.add("of the system event log: " + ends.notLearned());
        }
        Optional<Long> nextStart = Optional.empty();
        if (ends.events().isEmpty()) {
            all.notLearned.add("no start or end of Windows is kept in the system event log");
        } else {
            nextStart = all.end(ends);
        }
        all.hardware(hardware, nextStart);
        if (!all.notLearned.isEmpty()) {
            all.put(Fact.NOT_LEARNED, String.join("; ", all.notLearned));
        }
        return all.facts;
    }

    private void put(Fact fact, String text) {
        facts.put(fact.word(), text);
    }

    private void put(Fact fact, Found found) {
        put(fact, found.word());
    }

    /** @return number of the first record of the start that followed, if one did */
    private Optional<Long> end(Taken ends) {
        Boots boots = new Boots(ends.events());
        Boot newest = boots.get(boots.count() - 1);
        Optional<Integer> found =
                lastSample.isPresent() ? boots.firstAfter(lastSample.get()) : Optional.of(boots.count() - 1);
        if (found.isEmpty()) {
            if (newest.start().isPresent() && ends.notLearned().isEmpty()) {
                put(Fact.SAME_BOOT, Found.YES);
            } else {
                notLearned.add("whether Windows started again after the last sample");
            }
            asleep(newest);
            asked(newest);
            return Optional.empty();
        }
        int next = found.get();
        Boot after = boots.get(next);
        if (after.start().isEmpty()) {
            notLearned.add("which start of Windows followed");
            return Optional.empty();
        }
        put(Fact.SAME_BOOT, Found.NO);
        boolean clockRight = !boots.clockWentBack();
        if (!clockRight) {
            notLearned.add("times: the clock went back before Windows started");
        } else if (lastSample.isPresent()) {
            put(Fact.OFF_SECONDS, seconds(lastSample.get(), after.start().get()));
        }
        if (boots.count() - next > 1) {
            facts.put("windows-starts", Integer.toString(boots.count() - next));
        }
        reports(after);
        if (next == 0) {
            notLearned.add("how the log of that boot ends: what was read begins later"
                    + (ends.full() ? ", for there was more than is asked for" : ""));
        } else {
            wrote(boots.get(next - 1), after, clockRight, ends.notLearned().isEmpty());
        }
        return Optional.of(after.events().get(0).recordId());
    }

    /** What the next start says about the end before it. */
    private void reports(Boot after) {
        Optional<Event> restart = after.last(Kind.UNEXPECTED_RESTART);
        Optional<Event> report = after.last(Kind.BUG_CHECK);
        Optional<Long> code = bugCheck(restart, report);
        boolean stamped = button(restart, code);
        if (code.filter(c -> c != 0 && c != BUTTON_HELD).isPresent()) {
            put(Fact.CRASH_STORE, Found.PANIC);
            put(Fact.CRASH_RECORD, bugCheckText(code.get()));
        } else if ((code.isPresent() && stamped) || code.filter(c -> c == 0).isPresent()) {
            emptyCrashStore(after);
        } else if (restart.isPresent()) {
            notLearned.add("the bug check of event 41");
        }
        if (after.last(Kind.WATCHDOG_RESET).isPresent()) {
            put(Fact.WATCHDOG, Found.RESET);
        }
        restart.flatMap(e -> e.data("SleepInProgress"))
                .filter(v -> !v.equals("0") && !v.equalsIgnoreCase("false"))
                .ifPresent(v -> facts.put("sleep-transition", "in progress"));
    }

    /** Document A: a stop that could not be written leaves zeros, so a dump that was known to fail excludes nothing. */
    private void emptyCrashStore(Boot after) {
        if (after.last(Kind.DUMP_NOT_READY).isPresent()
                || after.last(Kind.DUMP_FAILED).isPresent()) {
            notLearned.add("whether there was a bug check: volmgr says that crash dumps fail here");
        } else {
            put(Fact.CRASH_STORE, Found.EMPTY);
        }
    }

    /** Event 41 gives the code as a decimal number (document A); event 1001 as "0x00000116 (0x..., ...)". */
    private static Optional<Long> bugCheck(Optional<Event> restart, Optional<Event> report) {
        Optional<Long> told = report.flatMap(e -> e.data("param1").or(() -> e.data(0)))
                .map(v -> v.replaceFirst("[ (].*", "").toLowerCase(Locale.ROOT))
                .flatMap(v -> v.startsWith("0x") ? number(v.substring(2), 16) : number(v, 10));
        return told.filter(c -> c != 0)
                .or(() -> restart.flatMap(e -> e.data("BugcheckCode")).flatMap(v -> number(v, 10)));
    }

    private static String bugCheckText(long code) {
        String name = BUG_CHECKS.getOrDefault(code, "");
        return String.format(Locale.ROOT, "bug check 0x%08x", code) + (name.isEmpty() ? "" : " " + name);
    }

    /**
     * Held for four seconds or more, its time is in event 41 (document A); newer versions also say so outright. Somebody
     * may hold it because everything stood still: how long after the last sample that was is for the reader to see.
     */
    private boolean button(Optional<Event> restart, Optional<Long> code) {
        Optional<Long> stamp =
                restart.flatMap(e -> e.data("PowerButtonTimestamp")).flatMap(v -> number(v, 10));
        boolean held = stamp.filter(t -> t != 0).isPresent()
                || restart.flatMap(e -> e.data("LongPowerButtonPressDetected"))
                        .filter("true"::equalsIgnoreCase)
                        .isPresent()
                || code.filter(c -> c == BUTTON_HELD).isPresent();
        if (held) {
            put(Fact.POWER_BUTTON, Found.HELD);
            stamp.flatMap(EndFacts::fileTime).ifPresent(t -> {
                facts.put("power-button-utc", text(t));
                lastSample.ifPresent(last -> facts.put("power-button-seconds", seconds(last, t)));
            });
        }
        return held;
    }

    /** What the boot that ended wrote itself, up to the start of the next. */
    private void wrote(Boot boot, Boot after, boolean clockRight, boolean whole) {
        boolean orderly = boot.last(Kind.LOG_STOPPED).isPresent()
                || boot.last(Kind.SHUTTING_DOWN).isPresent();
        Optional<Event> dirty = after.last(Kind.DIRTY_SHUTDOWN);
        if (orderly && after.last(Kind.UNEXPECTED_RESTART).isEmpty()) {
            put(Fact.SYSTEM_LOG, ending(boot));
        } else if (orderly) {
            notLearned.add("whether it ended in order: the log says so, and event 41 that it did not");
        } else if (whole) {
            put(Fact.SYSTEM_LOG, Found.NONE);
        }
        Optional<Event> thermal = boot.last(Kind.THERMAL_SHUTDOWN)
                .or(() -> boot.last(Kind.THERMAL_HIBERNATION))
                // written in the past tense, with a time: perhaps only by the next start
                .or(() -> after.last(Kind.THERMAL_SHUTDOWN));
        if (whole || thermal.isPresent()) {
            put(Fact.THERMAL_MESSAGE, thermal.isPresent() ? Found.YES : Found.NO);
        }
        thermal.ifPresent(e -> facts.put("thermal-text", thermal(e)));
        if (thermal.isPresent()) {
            put(Fact.ASKED_BY, Found.THERMAL);
        } else {
            asked(boot);
        }
        asleep(boot);
        Optional<Instant> alive = dirty.flatMap(e -> lastAlive(e.binary()));
        alive.ifPresent(t -> facts.put("windows-alive-utc", text(t)));
        if (clockRight && lastSample.isPresent()) {
            lastSign(boot, orderly, alive).ifPresent(t -> put(Fact.SYSTEM_LOG_SECONDS, seconds(lastSample.get(), t)));
        }
        long resets = boot.events().stream()
                .filter(Kind.DISPLAY_RESET::is)
                .filter(e -> since(e, lastSample.map(t -> t.minus(BEFORE))))
                .count();
        if (resets > 0) {
            facts.put("display-resets", Long.toString(resets));
        }
    }

    /**
     * Until when Windows is known to have run. How often the stamp of event 6008 is renewed is not known: it shows that
     * Windows ran on after the last sample, and never that it did not.
     */
    private Optional<Instant> lastSign(Boot boot, boolean orderly, Optional<Instant> alive) {
        if (orderly) {
            return boot.last(Kind.LOG_STOPPED)
                    .or(() -> boot.last(Kind.SHUTTING_DOWN))
                    .flatMap(Event::time);
        }
        return alive.filter(t -> t.isAfter(lastSample.orElse(t).plus(STAMP)));
    }

    /**
     * By the kernel's own event 109: {@code ShutdownActionType} is a POWER_ACTION (vendor's wdm.h, from memory: 4
     * shutdown, 5 shutdown and reset, 6 shutdown and off; a captured restart has 5). Event 1074 says it in the language of
     * the system, so only its English words are known.
     */
    private static Found ending(Boot boot) {
        String action = boot.last(Kind.SHUTDOWN_TRANSITION)
                .flatMap(e -> e.data("ShutdownActionType"))
                .or(() -> boot.last(Kind.ASKED).flatMap(e -> e.data("param5").or(() -> e.data(4))))
                .orElse("")
                .toLowerCase(Locale.ROOT);
        return switch (action) {
            case "5", "restart" -> Found.RESTART;
            case "4", "6", "power off", "shutdown" -> Found.SHUTDOWN;
            default -> Found.STOPPED;
        };
    }

    private void asked(Boot boot) {
        boot.last(Kind.ASKED)
                .filter(e -> since(e, lastSample.map(t -> t.minus(BEFORE))))
                .ifPresent(e -> {
                    put(Fact.ASKED_BY, Found.USER);
                    facts.put("asked-by-process", process(e));
                });
    }

    /** Process and kind of account; the names of computer and person stay out. */
    private static String process(Event event) {
        String path = event.data("param1").or(() -> event.data(0)).orElse("");
        String process = path.replaceFirst("\\s*\\([^()]*\\)$", "");
        process = process.substring(Math.max(process.lastIndexOf('\\'), process.lastIndexOf('/')) + 1);
        String account = "a user";
        if (event.user().isEmpty()) {
            account = "an unknown account";
        } else if (event.user().equals(SYSTEM)) {
            account = "the system";
        }
        return (process.isEmpty() ? "an unknown process" : clean(process)) + " for " + account;
    }

    /** By the places in the message text of document C: %2 zone, %4 critical temperature in kelvin as the firmware gives it. */
    private static String thermal(Event event) {
        return (Kind.THERMAL_HIBERNATION.is(event) ? "critical hibernation" : "critical shutdown")
                + event.data(1).map(z -> ", zone " + clean(z)).orElse("")
                + event.data(3).map(t -> ", limit " + clean(t) + " K").orElse("");
    }

    private void asleep(Boot boot) {
        Optional<Event> asleep = boot.last(Kind.SLEEP).filter(e -> since(e, lastSample));
        Optional<Event> awake = boot.last(Kind.RESUME);
        boolean still = asleep.isPresent()
                && (awake.isEmpty() || awake.get().recordId() < asleep.get().recordId());
        put(Fact.ASLEEP, still ? Found.YES : Found.NO);
    }

    /**
     * Written after the last sample, or where times say nothing, by the next start or later: a fatal one is often written
     * then, from what the processor kept.
     */
    private void hardware(Taken hardware, Optional<Long> nextStart) {
        if (!hardware.notLearned().isEmpty()) {
            notLearned.add("of hardware errors: " + hardware.notLearned());
        }
        List<Event> young = hardware.events().stream()
                .filter(e -> (lastSample.isPresent() && e.time().isPresent() && since(e, lastSample))
                        || nextStart.filter(n -> e.recordId() >= n).isPresent())
                .toList();
        long fatal = count(young, Hardware.FATAL);
        long corrected = count(young, Hardware.CORRECTED);
        if (fatal > 0) {
            put(Fact.HARDWARE_ERROR, Found.FATAL);
        } else if (corrected > 0) {
            put(Fact.HARDWARE_ERROR, Found.CORRECTED);
        } else if (hardware.notLearned().isEmpty() && (lastSample.isPresent() || nextStart.isPresent())) {
            put(Fact.HARDWARE_ERROR, Found.NONE);
        }
        if (fatal + corrected > 0) {
            boolean more = hardware.full() && young.size() == hardware.events().size();
            facts.put(
                    "hardware-errors", fatal + " fatal, " + corrected + " corrected" + (more ? ", perhaps more" : ""));
        }
    }

    private static long count(List<Event> events, Hardware how) {
        return events.stream().filter(e -> Hardware.of(e) == how).count();
    }

    private static boolean since(Event event, Optional<Instant> from) {
        return from.isEmpty() || event.time().isEmpty() || !event.time().get().isBefore(from.get());
    }

    private static String seconds(Instant from, Instant to) {
        return String.format(Locale.ROOT, "%.3f", Duration.between(from, to).toMillis() / 1000.0);
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
     * time, and the same in UTC. Inferred from captured events whose texts agree; no document of the vendor says so.
     */
    static Optional<Instant> lastAlive(String binary) {
        if (binary.length() < 64 || !binary.substring(32, 64).matches("[0-9A-Fa-f]{32}")) {
            return Optional.empty();
        }
        int[] words = new int[8];
        for (int i = 0; i < 8; i++) {
            int at = 32 + 4 * i;
            words[i] = Integer.parseInt(binary.substring(at, at + 2), 16)
                    + 256 * Integer.parseInt(binary.substring(at + 2, at + 4), 16);
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

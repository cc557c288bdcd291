// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.linux;

import dev.loadwitness.runlog.ending.Found;
import java.time.Duration;
import java.time.Instant;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.Set;
import java.util.regex.Pattern;
import org.jspecify.annotations.Nullable;

/**
 * How the last entries of a boot say that it ended. Message identifiers are those of systemd's sd-messages.h and catalog.
 * Any process can write anything into the journal except the fields that begin with an underscore, so only what root's own
 * processes and the kernel said counts.
 *
 * @param end shutdown, restart, stopped or none
 * @param asked power-button, user or thermal
 * @param thermal whether the kernel said that heat ends it
 * @param asleep whether the kernel went to sleep and did not say that it woke
 * @param last time of the last entry
 */
record JournalEnd(Found end, Optional<Found> asked, boolean thermal, boolean asleep, Optional<Instant> last) {
    static final String FIELDS = "MESSAGE,MESSAGE_ID,SHUTDOWN,UNIT,JOB_TYPE,JOB_RESULT,_UID,_TRANSPORT";

    private static final String SHUTDOWN = "98268866d1d54a499c4e98921d93bc40";
    private static final String JOURNAL_STOP = "d93fb3c9c24d451a97cea615ce59c00b";
    private static final String POWER_KEY = "b72ea4a2881545a0b50e200e55b9b071";
    private static final String POWER_KEY_LONG = "3e0117101eb243c1b9a50db3494ab10b";
    private static final Set<String> OFF_TARGETS = Set.of("poweroff.target", "halt.target");
    private static final Set<String> RESTART_TARGETS = Set.of("reboot.target", "kexec.target", "soft-reboot.target");

    /** drivers/thermal/thermal_core.c and, from 6.0, kernel/reboot.c hw_protection_shutdown. */
    private static final Pattern HEAT =
            Pattern.compile("critical temperature reached|HARDWARE PROTECTION .*[Tt]emperature");

    /** Common practice, no source: what a key asked for follows it at once, or after the time that a long press takes. */
    private static final Duration KEY_BEFORE = Duration.ofSeconds(15);

    static JournalEnd of(List<Map<String, String>> entries) {
        Found end = Found.NONE;
        Instant key = null;
        Instant heat = null;
        Instant ask = null;
        Instant last = null;
        boolean asleep = false;
        boolean stopped = false;
        for (Map<String, String> entry : entries) {
            Instant at = time(entry);
            last = at != null && (last == null || at.isAfter(last)) ? at : last;
            String message = entry.getOrDefault("MESSAGE", "");
            if (entry.getOrDefault("_TRANSPORT", "").equals("kernel")) {
                heat = HEAT.matcher(message).find() ? orEpoch(at) : heat;
                if (message.startsWith("PM: suspend entry")
                        || message.startsWith("PM: hibernation: hibernation entry")) {
                    asleep = true;
                } else if (message.startsWith("PM: suspend exit")
                        || message.startsWith("PM: hibernation: hibernation exit")) {
                    asleep = false;
                }
                continue;
            }
            if (!entry.getOrDefault("_UID", "").equals("0")) {
                continue;
            }
            stopped = false; // the journal went on: it had only been started anew
            String id = entry.getOrDefault("MESSAGE_ID", "");
            if (id.equals(JOURNAL_STOP)) {
                stopped = true;
            } else if (id.equals(POWER_KEY) || id.equals(POWER_KEY_LONG)) {
                key = orEpoch(at);
            } else {
                Found told = told(entry, id);
                if (told != null) {
                    ask = end == Found.NONE ? orEpoch(at) : ask;
                    end = told;
                }
            }
        }
        Optional<Found> asked = ask == null
                ? Optional.empty()
                : Optional.of(heat != null ? Found.THERMAL : within(key, ask) ? Found.POWER_BUTTON : Found.USER);
        return new JournalEnd(
                end == Found.NONE && stopped ? Found.STOPPED : end,
                asked,
                heat != null,
                asleep,
                Optional.ofNullable(last));
    }

    private static @Nullable Found told(Map<String, String> entry, String id) {
        if (id.equals(SHUTDOWN)) {
            return switch (entry.getOrDefault("SHUTDOWN", "")) {
                case "power-off", "poweroff", "halt" -> Found.SHUTDOWN;
                case "reboot", "kexec", "soft-reboot" -> Found.RESTART;
                default -> null; // a kind newer than this program; the target that follows may tell
            };
        }
        boolean reached = entry.getOrDefault("JOB_TYPE", "").equals("start")
                && entry.getOrDefault("JOB_RESULT", "").equals("done");
        String unit = entry.getOrDefault("UNIT", "");
        return !reached
                ? null
                : OFF_TARGETS.contains(unit) ? Found.SHUTDOWN : RESTART_TARGETS.contains(unit) ? Found.RESTART : null;
    }

    private static boolean within(@Nullable Instant key, Instant ask) {
        return key != null && !key.isAfter(ask) && !key.plus(KEY_BEFORE).isBefore(ask);
    }

    private static Instant orEpoch(@Nullable Instant at) {
        return at == null ? Instant.EPOCH : at;
    }

    private static @Nullable Instant time(Map<String, String> entry) {
        try {
            long micros = Long.parseLong(entry.getOrDefault("__REALTIME_TIMESTAMP", ""));
            return Instant.ofEpochSecond(Math.floorDiv(micros, 1_000_000L), Math.floorMod(micros, 1_000_000L) * 1000L);
        } catch (NumberFormatException e) {
            return null;
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.windows;

import java.util.Arrays;
import java.util.List;
import java.util.Locale;
import java.util.Optional;

/**
 * The events that say something about an end. A number means nothing without its provider: 19 is a hardware error of
 * one and an installed update of another. Where the meaning is from:
 *
 * <ul>
 *   <li>A: Microsoft, "Advanced troubleshooting for Event ID 41".
 *   <li>B: Microsoft, "Troubleshoot unexpected reboots using system event logs".
 *   <li>C: the message texts in Microsoft's own file microsoft-windows-kernel-power-events.dll (versions 6.1 to 10.0), as
 *       libyal's winevt-kb lists them.
 *   <li>D: events captured and published by users.
 * </ul>
 */
enum Kind {
    /** Restarted without a shutdown before (A, B, C). */
    UNEXPECTED_RESTART(Provider.KERNEL_POWER, 41),
    /** Entering sleep (C). */
    SLEEP(Provider.KERNEL_POWER, 42),
    /** Shut down because of a critical thermal event: time, zone, its critical temperature (C). */
    THERMAL_SHUTDOWN(Provider.KERNEL_POWER, 86),
    /** Hibernated because of a critical thermal event (C). */
    THERMAL_HIBERNATION(Provider.KERNEL_POWER, 88),
    /** Back from sleep (D). */
    RESUME(Provider.KERNEL_POWER, 107),
    /** The kernel begins a shutdown; its data say which (C, D). */
    SHUTDOWN_TRANSITION(Provider.KERNEL_POWER, 109),
    /** Stopped responding, and the hardware watchdog reset it (C, since version 6.3). */
    WATCHDOG_RESET(Provider.KERNEL_POWER, 142),
    /** The operating system started (B). */
    STARTED(Provider.KERNEL_GENERAL, 12),
    /** The operating system is shutting down (B). */
    SHUTTING_DOWN(Provider.KERNEL_GENERAL, 13),
    /** The event log service started (B). */
    LOG_STARTED(Provider.EVENT_LOG, 6005),
    /** The event log service was stopped (B). */
    LOG_STOPPED(Provider.EVENT_LOG, 6006),
    /** The previous shutdown was unexpected (B). */
    DIRTY_SHUTDOWN(Provider.EVENT_LOG, 6008),
    /** The version of Windows, at each start (B). */
    VERSION(Provider.EVENT_LOG, 6009),
    /** A process asked for a shutdown or restart, for a user (B). */
    ASKED(Provider.USER32, 1074),
    /** Restarted from a bug check (B). */
    BUG_CHECK(Provider.WER, 1001),
    /** The display driver stopped responding and recovered (D; the vendor's page on it gives no number). */
    DISPLAY_RESET(Provider.DISPLAY, 4101),
    /** No crash dump could be prepared: event 41 may then tell of no bug check although there was one (A, D). */
    DUMP_NOT_READY(Provider.VOLMGR, 46),
    /** A crash dump failed (D). */
    DUMP_FAILED(Provider.VOLMGR, 161),
    /** Any event of the hardware error architecture; see {@link Hardware}. */
    HARDWARE_ERROR(Provider.WHEA, 0);

    /** The names that one provider has had. */
    private enum Provider {
        KERNEL_POWER("Microsoft-Windows-Kernel-Power"),
        KERNEL_GENERAL("Microsoft-Windows-Kernel-General"),
        EVENT_LOG("EventLog", "Microsoft-Windows-Eventlog"),
        USER32("User32", "USER32"),
        WER("Microsoft-Windows-WER-SystemErrorReporting", "BugCheck"),
        DISPLAY("Display"),
        VOLMGR("volmgr"),
        WHEA("Microsoft-Windows-WHEA-Logger");

        private final List<String> names;

        Provider(String... names) {
            this.names = List.of(names);
        }
    }

    private final Provider provider;
    private final int id;

    Kind(Provider provider, int id) {
        this.provider = provider;
        this.id = id;
    }

    static Optional<Kind> of(Event event) {
        return Arrays.stream(values())
                .filter(k -> k.provider.names.stream().anyMatch(event.provider()::equalsIgnoreCase))
                .filter(k -> k.provider == Provider.WHEA || k.id == event.id())
                .findFirst();
    }

    boolean is(Event event) {
        return of(event).filter(k -> k == this).isPresent();
    }

    /**
     * Everything but hardware errors: those have a question of their own, because a storm of corrected ones would push
     * the rest out of a bounded answer. One "Select" for each provider, each with far fewer than the 20 expressions that
     * the document "Consuming Events" allows.
     */
    static String endQuery() {
        return query(List.of(
                Provider.KERNEL_POWER,
                Provider.KERNEL_GENERAL,
                Provider.EVENT_LOG,
                Provider.USER32,
                Provider.WER,
                Provider.VOLMGR,
                Provider.DISPLAY));
    }

    static String hardwareQuery() {
        return query(List.of(Provider.WHEA));
    }

    private static String query(List<Provider> providers) {
        StringBuilder query = new StringBuilder("<QueryList><Query Id=\"0\" Path=\"System\">");
        for (Provider provider : providers) {
            for (String name : provider.names) {
                query.append(String.format(
                        Locale.ROOT,
                        "<Select Path=\"System\">*[System[Provider[@Name='%s']%s]]</Select>",
                        name,
                        ids(provider)));
            }
        }
        return query.append("</Query></QueryList>").toString();
    }

    private static String ids(Provider provider) {
        if (provider == Provider.WHEA) {
            return "";
        }
        List<String> ids = Arrays.stream(values())
                .filter(k -> k.provider == provider)
                .map(k -> "EventID=" + k.id)
                .toList();
        return " and (" + String.join(" or ", ids) + ")";
    }
}

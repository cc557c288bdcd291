// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.linux;

import dev.loadwitness.runlog.ending.Found;
import java.util.LinkedHashSet;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.Set;
import java.util.TreeSet;
import java.util.regex.Matcher;
import java.util.regex.Pattern;
import java.util.stream.Collectors;

/** What the kernel's messages of one boot say about how the boot before it ended, and of processes it ended. */
final class KernelText {
    /**
     * Kernels from 6.16 on AMD Zen; their reasons and bits are in Documentation/arch/x86/amd-debugging.rst, "Random reboot
     * issues" (there since 2025). One line for each bit that is set.
     */
    private static final Pattern RESET =
            Pattern.compile("x86/amd: Previous system reset reason \\[0x[0-9a-fA-F]{8}\\]: (.{1,200})");

    private static final Map<String, Found> REASONS = Map.ofEntries(
            Map.entry("thermal pin BP_THERMTRIP_L was tripped", Found.THERMAL), // bit 0
            Map.entry("power button was pressed for 4 seconds", Found.POWER_BUTTON), // 1
            Map.entry("shutdown pin was tripped", Found.RESET_LINE), // 2
            Map.entry("shutdown pin was shorted", Found.RESET_LINE), // 2, in an early version of the document
            Map.entry("internal CPU thermal limit was tripped", Found.THERMAL), // 9
            Map.entry("system reset pin BP_SYS_RST_L was tripped", Found.RESET_LINE), // 16
            Map.entry("software issued PCI reset", Found.SOFTWARE), // 17
            Map.entry("software wrote 0x4 to reset control register 0xCF9", Found.SOFTWARE), // 18
            Map.entry("software wrote 0x6 to reset control register 0xCF9", Found.SOFTWARE), // 19
            Map.entry("software wrote 0xE to reset control register 0xCF9", Found.SOFTWARE), // 20
            Map.entry("keyboard reset pin KB_RST_L was tripped", Found.RESET_LINE), // 22
            Map.entry("keyboard reset pin KB_RST_L was asserted", Found.RESET_LINE), // 22, in an early version
            Map.entry("internal CPU shutdown event occurred", Found.HARDWARE_ERROR), // 23
            Map.entry("system failed to boot before failed boot timer expired", Found.RESET_LINE), // 24
            Map.entry("hardware watchdog timer expired", Found.WATCHDOG), // 25
            Map.entry("an uncorrected error caused a data fabric sync flood event", Found.HARDWARE_ERROR), // 27
            Map.entry("FCH and MP1 failed warm reset handshake", Found.HARDWARE_ERROR), // 29
            Map.entry("a parity error occurred", Found.HARDWARE_ERROR), // 30
            Map.entry("a software sync flood event occurred", Found.HARDWARE_ERROR)); // 31

    /** drivers/acpi/apei/bert.c, and the severities of drivers/firmware/efi/cper.c. */
    private static final String BERT = "BERT: Error records from previous boot:";

    private static final Pattern SEVERITY = Pattern.compile("\\[Hardware Error\\]: event severity: (\\w{1,20})");

    /** mm/oom_kill.c. */
    private static final Pattern KILLED =
            Pattern.compile("^\\[ *(\\d{1,12}\\.\\d{1,9})\\].*[Oo]ut of memory: Killed process \\d+ \\(java\\)");

    private final List<String> lines;

    KernelText(List<String> lines) {
        this.lines = List.copyOf(lines);
    }

    /** Whether it reaches back to the boot's first message: only then does what is missing say anything. */
    boolean whole() {
        return lines.stream().limit(3).anyMatch(l -> l.contains("Linux version "));
    }

    /** Words of {@link Found}, comma-separated; {@code none} if the kernel tells such reasons and there is none. */
    Optional<String> resetReasons() {
        Set<Found> found = new TreeSet<>();
        for (String text : resetTexts()) {
            found.add(REASONS.getOrDefault(text, Found.OTHER));
        }
        return found.isEmpty()
                ? Optional.empty()
                : Optional.of(found.stream().map(Found::word).collect(Collectors.joining(",")));
    }

    Optional<String> resetText() {
        Set<String> texts = resetTexts();
        return texts.isEmpty() ? Optional.empty() : Optional.of(Bounded.harmless(String.join("; ", texts), 300));
    }

    private Set<String> resetTexts() {
        Set<String> texts = new LinkedHashSet<>();
        for (String line : lines) {
            Matcher matcher = RESET.matcher(line);
            if (matcher.find()) {
                texts.add(matcher.group(1).strip());
            }
        }
        return texts;
    }

    /** What firmware kept of hardware errors of the boot before. */
    Optional<Found> hardwareError() {
        boolean inRecord = false;
        Found worst = null;
        for (String line : lines) {
            if (line.contains(BERT)) {
                inRecord = true;
            } else if (!line.contains("[Hardware Error]")) {
                inRecord = false;
            } else if (inRecord) {
                Matcher matcher = SEVERITY.matcher(line);
                if (matcher.find()) {
                    boolean fatal = matcher.group(1).equals("fatal");
                    worst = fatal || worst == Found.FATAL ? Found.FATAL : Found.CORRECTED;
                }
            }
        }
        return Optional.ofNullable(worst);
    }

    /** Seconds since boot at which the kernel last ended a Java program for want of memory. */
    OptionalDouble javaKilledSeconds() {
        OptionalDouble last = OptionalDouble.empty();
        for (String line : lines) {
            Matcher matcher = KILLED.matcher(line);
            if (matcher.find()) {
                last = OptionalDouble.of(Double.parseDouble(matcher.group(1)));
            }
        }
        return last;
    }
}

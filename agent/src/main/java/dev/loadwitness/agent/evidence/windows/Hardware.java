// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.windows;

/**
 * How bad an event of the provider Microsoft-Windows-WHEA-Logger is. Source: the message texts in Microsoft's own file
 * whealogr.dll (versions 6.1 to 10.0), as libyal's winevt-kb lists them: 1 fatal, 2 corrected, 3 informational; 16 to 27
 * and 38 to 47 are fatal when even and corrected when odd, for PCI Express (16, 17), processor core (18, 19, 38, 39),
 * northbridge (20, 21), memory (22, 23, 46, 47), PCI bus and device (24 to 27, 42 to 45) and a named component (40, 41).
 * Any other number goes by its level: newer versions may know more.
 */
enum Hardware {
    FATAL,
    CORRECTED,
    INFORMATION;

    static Hardware of(Event event) {
        int id = event.id();
        if (id == 1) {
            return FATAL;
        }
        if (id == 2) {
            return CORRECTED;
        }
        if (id == 3) {
            return INFORMATION;
        }
        if ((id >= 16 && id <= 27) || (id >= 38 && id <= 47)) {
            return id % 2 == 0 ? FATAL : CORRECTED;
        }
        return switch (event.level()) {
            case 1, 2 -> FATAL;
            case 3 -> CORRECTED;
            default -> INFORMATION;
        };
    }
}

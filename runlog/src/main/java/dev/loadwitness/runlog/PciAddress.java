// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

import java.util.regex.Pattern;

/** A place on the PCI bus as the kernel writes it: {@code 0000:01:00.0}, domain, bus, device and function. */
public final class PciAddress {
    private static final Pattern FORM = Pattern.compile("[0-9a-f]{4,8}:[0-9a-f]{2}:[0-9a-f]{2}\\.[0-7]");

    private PciAddress() {}

    /** Whether it is one. */
    public static boolean is(String text) {
        return FORM.matcher(text).matches();
    }
}

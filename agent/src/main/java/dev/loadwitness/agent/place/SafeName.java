// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.place;

import java.util.Locale;
import java.util.regex.Pattern;

/**
 * A folder's name that FAT, exFAT, NTFS and every locale take. Two texts may become one name: then they share a folder of
 * runs, which loses nothing.
 *
 * <p>Source of the forbidden characters and reserved names: Microsoft, "Naming Files, Paths, and Namespaces".
 */
final class SafeName {
    /** FAT and NTFS take 255; some room is left for the names below, and for Windows' limit of 260 for a whole path. */
    private static final int LONGEST = 64;

    /** Letters beyond ASCII go too: under the C locale this Java cannot even name such a file. */
    private static final Pattern UNSAFE = Pattern.compile("[^A-Za-z0-9._-]");

    private static final Pattern DEVICE = Pattern.compile("(con|prn|aux|nul|com\\d|lpt\\d|conin_|conout_)([.].*)?");

    private SafeName() {}

    static String of(String text) {
        String name = UNSAFE.matcher(text.strip()).replaceAll("_");
        if (name.length() > LONGEST) {
            name = name.substring(0, LONGEST);
        }
        // Windows drops dots at the end; a dot or dash at the beginning hides the folder or looks like an option.
        name = name.replaceAll("[.]+$", "_").replaceAll("^[.-]", "_");
        return DEVICE.matcher(name.toLowerCase(Locale.ROOT)).matches() ? "_" + name : name;
    }
}

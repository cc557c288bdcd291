// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.arm.windows;

import java.util.List;

/**
 * Command lines of Windows' own programs, each by its absolute path: Microsoft's document "Schtasks.exe"; {@code /HRESULT}
 * is in the program's own help. Messages come in the system's language, so only the exit status is read; see
 * {@link TaskAnswer}.
 */
public final class TaskCommands {
    private final String system32;

    /**
     * For Windows in this folder.
     *
     * @param systemRoot as {@code C:\Windows}
     * @throws IllegalArgumentException if that is no absolute path
     */
    public TaskCommands(String systemRoot) {
        BootTask.absolute(systemRoot);
        system32 = systemRoot.replaceFirst("\\\\+$", "") + "\\System32\\";
    }

    /**
     * Registers the task. It replaces one of the same name without asking: query first.
     *
     * @param file with {@link BootTask#file}, absolute
     */
    public List<String> create(String file) {
        BootTask.absolute(file);
        return schtasks("/Create", "/XML", file, "/TN", BootTask.NAME, "/F");
    }

    /** Removes the task without asking. */
    public List<String> delete() {
        return schtasks("/Delete", "/TN", BootTask.NAME, "/F");
    }

    /** Asks for the task's definition, on standard output. */
    public List<String> query() {
        return schtasks("/Query", "/TN", BootTask.NAME, "/XML");
    }

    private List<String> schtasks(String verb, String... arguments) {
        List<String> line = new java.util.ArrayList<>(List.of(system32 + "schtasks.exe", verb));
        line.addAll(List.of(arguments));
        line.add("/HRESULT");
        return List.copyOf(line);
    }

    /**
     * Leaves the folder of the copied program to administrators and the system; users may read and execute. Groups by
     * their identifiers, because names differ by language; the form with a star is from memory.
     */
    public List<String> protect(String folder) {
        BootTask.absolute(folder);
        return List.of(
                system32 + "icacls.exe",
                folder,
                "/inheritance:r",
                "/grant:r",
                "*S-1-5-18:(OI)(CI)F",
                "*S-1-5-32-544:(OI)(CI)F",
                "*S-1-5-32-545:(OI)(CI)RX");
    }

    /**
     * Lets one user change what is in a folder: the task counts its starts there, with that user's lower rights, which
     * {@link #protect} shuts out.
     */
    public List<String> letChange(String folder, String userSid) {
        BootTask.absolute(folder);
        return List.of(system32 + "icacls.exe", folder, "/grant", "*" + userSid + ":(OI)(CI)M");
    }

    /** Asks who this user is: one line, name and identifier; see {@link TaskAnswer#userSid}. */
    public List<String> whoAmI() {
        return List.of(system32 + "whoami.exe", "/USER", "/FO", "CSV", "/NH");
    }
}

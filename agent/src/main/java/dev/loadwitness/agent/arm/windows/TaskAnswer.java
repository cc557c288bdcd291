// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.arm.windows;

import java.util.Locale;
import java.util.Optional;
import java.util.regex.Matcher;
import java.util.regex.Pattern;

/** What an exit status of {@code schtasks.exe /HRESULT} means: Microsoft's "Task Scheduler Error and Success Constants". */
public enum TaskAnswer {
    DONE("done"),
    /** Nothing of that name is there. */
    ABSENT("there is no such task"),
    /** The command prompt has not the rights of an administrator. */
    DENIED("Windows refused: open a command prompt as administrator"),
    /** The scheduler does not run. */
    NO_SCHEDULER("the Task Scheduler service does not run; start it, or call 'resume' by hand after a restart"),
    /** The definition is not to the scheduler's liking: a defect of this program. */
    MALFORMED("the scheduler does not take the task's definition: please report this"),
    OTHER("the scheduler answered with an error");

    private static final Pattern USER = Pattern.compile("\"[^\"]*\",\"(S-1-[0-9-]+)\"\\s*");

    private final String text;

    TaskAnswer(String text) {
        this.text = text;
    }

    /** For people: what it is and what to do. */
    public String text() {
        return text;
    }

    /**
     * Reads an exit status.
     *
     * @param exit as Java gives it, the 32 bits of the HRESULT
     */
    public static TaskAnswer of(int exit) {
        return switch (exit) {
            case 0 -> DONE;
            case 0x80070002, 0x80070003 -> ABSENT; // file, path not found
            case 0x80070005 -> DENIED;
            case 0x8004130c, 0x80041315, 0x80041322 -> NO_SCHEDULER;
            case 0x80041316, 0x80041317, 0x80041318, 0x80041319, 0x8004131a, 0x8004131d -> MALFORMED;
            default -> OTHER;
        };
    }

    /** The status as the vendor's lists have it, for a message that can be searched for. */
    public static String number(int exit) {
        return String.format(Locale.ROOT, "0x%08X", exit);
    }

    /** The identifier in the line that {@code whoami} prints; empty if it has another form. */
    public static Optional<String> userSid(String output) {
        Matcher line = USER.matcher(output.strip());
        return line.matches() ? Optional.of(line.group(1)) : Optional.empty();
    }
}

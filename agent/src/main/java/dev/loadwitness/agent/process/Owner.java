// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.process;

import dev.loadwitness.runlog.disk.Input;
import dev.loadwitness.runlog.disk.KernelFile;
import java.io.IOException;
import java.nio.file.Path;
import java.util.Optional;
import java.util.regex.Matcher;
import java.util.regex.Pattern;

/**
 * The process that a copy in memory belongs to.
 *
 * @param start when it started, in the kernel's ticks since boot: a later process with the same number has another
 */
public record Owner(long pid, long start) {
    private static final Pattern TEXT = Pattern.compile("(\\d{1,10}) (\\d{1,19})\\s*");
    private static final int LONGEST = 100;
    public static final String FILE = "owner";

    /** From the file {@code owner} in a copy, as the launcher writes it: process number and start time. */
    public static Optional<Owner> of(Path copy) {
        try {
            Matcher matcher = TEXT.matcher(Input.text(copy.resolve(FILE), Input.Named.BY_PLACE, LONGEST));
            return matcher.matches()
                    ? Optional.of(new Owner(Long.parseLong(matcher.group(1)), Long.parseLong(matcher.group(2))))
                    : Optional.empty();
        } catch (IOException | NumberFormatException e) {
            return Optional.empty();
        }
    }

    /** The process with number {@code pid} as it runs now; {@code proc} is {@code /proc} or a made-up tree. */
    public static Optional<Owner> running(Path proc, long pid) {
        try {
            String stat = KernelFile.text(proc.resolve(pid + "/stat"));
            // The second field is the program's name in parentheses and may hold anything; the start time is field 22
            // (proc(5)).
            String[] fields = stat.substring(stat.lastIndexOf(')') + 1).strip().split(" ", -1);
            return Optional.of(new Owner(pid, Long.parseLong(fields[19])));
        } catch (IOException | RuntimeException e) {
            return Optional.empty(); // no such process, or one without such a file
        }
    }

    /** What stands in that file. */
    String text() {
        return pid + " " + start + "\n";
    }

    public boolean isRunning(Path proc) {
        return running(proc, pid).equals(Optional.of(this));
    }
}

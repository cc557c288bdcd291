// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.arm.windows;

import java.nio.charset.StandardCharsets;
import java.time.Instant;
import java.time.temporal.ChronoUnit;
import java.util.List;
import java.util.stream.Collectors;

/**
 * The scheduled task that calls {@code resume} when Windows starts, after Microsoft's "Task Scheduler Schema". It runs as
 * the user who armed it, without a stored password (S4U) and with that user's lower rights, never as the system: what is
 * started at boot can then do no more than that user's programs can anyway. Paths are texts, because this is also tried
 * where they are none.
 *
 * @param userSid security identifier of the arming user, who must be an administrator to arm
 * @param program absolute path of {@code java.exe} in the protected copy
 * @param arguments each as the program is to see it
 * @param folder working folder, absolute
 * @param expires after that the trigger is dead and the task deletes itself. By the wall clock, which a flat battery sets
 *     back: the counter of starts in the armed state is the bound that holds
 */
public record BootTask(String userSid, String program, List<String> arguments, String folder, Instant expires) {
    /** In the scheduler's root folder: a folder of our own would outlive the task. */
    public static final String NAME = "LoadwitnessResume";

    /**
     * Checks what it can.
     *
     * @throws IllegalArgumentException saying which text is not of its form
     */
    public BootTask {
        if (!userSid.matches("S-1-5-21(-[0-9]{1,10}){4}|S-1-12-1(-[0-9]{1,10}){4}")) {
            throw new IllegalArgumentException("'" + userSid + "' is not the identifier of a person's account");
        }
        absolute(program);
        absolute(folder);
        arguments = List.copyOf(arguments);
        arguments.forEach(BootTask::printable);
    }

    /** A drive and a path: nothing relative, no share of a network, no device, no variable that is filled in later. */
    static void absolute(String path) {
        printable(path);
        if (!path.matches("[A-Za-z]:\\\\[^/:*?\"<>|%]*") || (path + "\\").contains("\\..\\")) {
            throw new IllegalArgumentException("'" + path + "' is not an absolute path on a drive of Windows");
        }
    }

    private static void printable(String text) {
        if (text.chars().anyMatch(c -> c < ' ' || c == 0x7f || c > 0xfffd || Character.isSurrogate((char) c))) {
            throw new IllegalArgumentException("a control character or the like in '" + text.strip() + "'");
        }
    }

    /**
     * The definition. What is not obvious: no start boundary, or a clock set back would keep it from starting; on
     * batteries it starts and goes on, or the task would be ended when the adapter drops, which is what a run watches for;
     * no time limit (the default is three days, from memory); priority 5 is the normal class, 7, the default, is below it
     * (document "TaskSettings.Priority").
     */
    public String xml() {
        return """
                <?xml version="1.0" encoding="UTF-16"?>
                <Task version="1.3" xmlns="http://schemas.microsoft.com/windows/2004/02/mit/task">
                  <RegistrationInfo>
                    <Author>Loadwitness</Author>
                    <Description>Goes on with a burn-in run that broke off. 'loadwitness-agent disarm' removes it.</Description>
                  </RegistrationInfo>
                  <Triggers>
                    <BootTrigger>
                      <Enabled>true</Enabled>
                      <EndBoundary>%1$s</EndBoundary>
                    </BootTrigger>
                  </Triggers>
                  <Principals>
                    <Principal id="Armed">
                      <UserId>%2$s</UserId>
                      <LogonType>S4U</LogonType>
                      <RunLevel>LeastPrivilege</RunLevel>
                    </Principal>
                  </Principals>
                  <Settings>
                    <AllowStartOnDemand>false</AllowStartOnDemand>
                    <MultipleInstancesPolicy>IgnoreNew</MultipleInstancesPolicy>
                    <DisallowStartIfOnBatteries>false</DisallowStartIfOnBatteries>
                    <StopIfGoingOnBatteries>false</StopIfGoingOnBatteries>
                    <AllowHardTerminate>true</AllowHardTerminate>
                    <StartWhenAvailable>false</StartWhenAvailable>
                    <RunOnlyIfNetworkAvailable>false</RunOnlyIfNetworkAvailable>
                    <WakeToRun>false</WakeToRun>
                    <Enabled>true</Enabled>
                    <Hidden>false</Hidden>
                    <DeleteExpiredTaskAfter>PT0S</DeleteExpiredTaskAfter>
                    <ExecutionTimeLimit>PT0S</ExecutionTimeLimit>
                    <Priority>5</Priority>
                    <RunOnlyIfIdle>false</RunOnlyIfIdle>
                  </Settings>
                  <Actions Context="Armed">
                    <Exec>
                      <Command>%3$s</Command>
                      <Arguments>%4$s</Arguments>
                      <WorkingDirectory>%5$s</WorkingDirectory>
                    </Exec>
                  </Actions>
                </Task>
                """.formatted(
                        expires.truncatedTo(ChronoUnit.SECONDS),
                        escaped(userSid),
                        escaped(program),
                        escaped(arguments.stream().map(BootTask::quoted).collect(Collectors.joining(" "))),
                        escaped(folder));
    }

    /** As the file for {@code schtasks /XML}: UTF-16 with its mark, as the scheduler's own exports are (from memory). */
    public byte[] file() {
        return ("\ufeff" + xml().replace("\n", "\r\n")).getBytes(StandardCharsets.UTF_16LE);
    }

    private static String escaped(String text) {
        return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;");
    }

    /**
     * As Microsoft's "Parsing C Command-Line Arguments" takes it apart: backslashes count double before a quotation mark,
     * and only there. The scheduler fills in {@code $(Arg0)} in arguments, so that form is refused.
     */
    static String quoted(String argument) {
        if (argument.contains("$(")) {
            throw new IllegalArgumentException("'" + argument + "' would be filled in by the scheduler");
        }
        if (argument.matches("[A-Za-z0-9_.:=\\\\+,-]+")) {
            return argument;
        }
        StringBuilder quoted = new StringBuilder("\"");
        int backslashes = 0;
        for (int i = 0; i < argument.length(); i++) {
            char c = argument.charAt(i);
            if (c == '\\') {
                backslashes++;
            } else {
                quoted.append("\\".repeat(c == '"' ? 2 * backslashes + 1 : backslashes));
                quoted.append(c);
                backslashes = 0;
            }
        }
        return quoted.append("\\".repeat(2 * backslashes)).append('"').toString();
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.arm.windows;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

/** Syntax: Microsoft's "Schtasks.exe". */
class TaskCommandsTest {
    private final TaskCommands commands = new TaskCommands("C:\\Windows");

    @Test
    void createTakesTheDefinitionFromTheFileAndAsksNothing() {
        assertThat(commands.create("C:\\Program Files\\Loadwitness armed\\task.xml"))
                .containsExactly(
                        "C:\\Windows\\System32\\schtasks.exe",
                        "/Create",
                        "/XML",
                        "C:\\Program Files\\Loadwitness armed\\task.xml",
                        "/TN",
                        "LoadwitnessResume",
                        "/F",
                        "/HRESULT");
    }

    @Test
    void deleteRemovesOnlyOurTaskAndAsksNothing() {
        assertThat(commands.delete())
                .containsExactly(
                        "C:\\Windows\\System32\\schtasks.exe", "/Delete", "/TN", "LoadwitnessResume", "/F", "/HRESULT");
    }

    @Test
    void everyProgramIsNamedByItsAbsolutePath() {
        assertThat(commands.query().get(0)).isEqualTo("C:\\Windows\\System32\\schtasks.exe");
        assertThat(commands.whoAmI().get(0)).isEqualTo("C:\\Windows\\System32\\whoami.exe");
        assertThat(commands.protect("C:\\x").get(0)).isEqualTo("C:\\Windows\\System32\\icacls.exe");
        assertThat(new TaskCommands("D:\\WINNT\\").query().get(0)).isEqualTo("D:\\WINNT\\System32\\schtasks.exe");
    }

    @Test
    void relativePlacesAreRefused() {
        assertThatThrownBy(() -> new TaskCommands("Windows")).isInstanceOf(IllegalArgumentException.class);
        assertThatThrownBy(() -> commands.create("task.xml")).isInstanceOf(IllegalArgumentException.class);
        assertThatThrownBy(() -> commands.protect("..\\x")).isInstanceOf(IllegalArgumentException.class);
    }

    @Test
    void onlyTheSystemAndAdministratorsMayChangeTheCopy() {
        assertThat(commands.protect("C:\\x"))
                .contains("/inheritance:r", "*S-1-5-32-545:(OI)(CI)RX")
                .filteredOn(w -> w.endsWith("F"))
                .containsExactly("*S-1-5-18:(OI)(CI)F", "*S-1-5-32-544:(OI)(CI)F");
    }

    /** Numbers: "Task Scheduler Error and Success Constants"; 0x8007xxxx are the system's own errors. */
    @ParameterizedTest
    @CsvSource({
        "00000000, DONE",
        "80070002, ABSENT",
        "80070005, DENIED",
        "80041315, NO_SCHEDULER",
        "80041322, NO_SCHEDULER",
        "80041318, MALFORMED",
        "8004131A, MALFORMED",
        "00000001, OTHER",
        "8004131F, OTHER"
    })
    void exitStatusSaysWhatHappenedInEveryLanguage(String hresult, TaskAnswer answer) {
        int exit = Integer.parseUnsignedInt(hresult, 16);

        assertThat(TaskAnswer.of(exit)).isEqualTo(answer);
        assertThat(TaskAnswer.number(exit)).isEqualTo("0x" + hresult);
    }

    @Test
    void userIsReadFromWhoAmIOrNotAtAll() {
        assertThat(TaskAnswer.userSid("\"aw17\\m.okonjo\",\"S-1-5-21-1-2-3-1001\"\r\n"))
                .contains("S-1-5-21-1-2-3-1001");
        assertThat(TaskAnswer.userSid("")).isEmpty();
        assertThat(TaskAnswer.userSid("ERROR: access denied")).isEmpty();
        assertThat(TaskAnswer.userSid("\"a\",\"S-1-5-18\" \"x\"")).isEmpty();
    }
}

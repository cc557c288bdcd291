// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.arm.windows;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import java.io.ByteArrayInputStream;
import java.time.Instant;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import java.util.TreeMap;
import javax.xml.parsers.DocumentBuilderFactory;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;
import org.junit.jupiter.params.provider.ValueSource;
import org.w3c.dom.Element;
import org.w3c.dom.Node;

/** Rules of Microsoft's "Task Scheduler Schema" that can be checked without it; the schema file itself is not at hand. */
class BootTaskTest {
    private static final String SID = "S-1-5-21-1004336348-1177238915-682003330-1001";
    private static final String JAVA = "C:\\Program Files\\Loadwitness armed\\runtime\\bin\\java.exe";
    private static final String FOLDER = "C:\\Program Files\\Loadwitness armed";
    private static final Instant EXPIRES = Instant.parse("2026-12-02T14:00:00.123Z");

    /** Children that the schema's complex type of that name allows, settingsType and triggerBaseType in full. */
    private static final Map<String, List<String>> ALLOWED = Map.of(
            "Task", List.of("RegistrationInfo", "Triggers", "Principals", "Settings", "Data", "Actions"),
            "BootTrigger",
                    List.of("Enabled", "StartBoundary", "EndBoundary", "Repetition", "ExecutionTimeLimit", "Delay"),
            "Principal",
                    List.of(
                            "UserId",
                            "LogonType",
                            "GroupId",
                            "DisplayName",
                            "RunLevel",
                            "ProcessTokenSidType",
                            "RequiredPrivileges"),
            "Settings",
                    List.of(
                            "AllowStartOnDemand",
                            "RestartOnFailure",
                            "MultipleInstancesPolicy",
                            "DisallowStartIfOnBatteries",
                            "StopIfGoingOnBatteries",
                            "AllowHardTerminate",
                            "StartWhenAvailable",
                            "NetworkProfileName",
                            "RunOnlyIfNetworkAvailable",
                            "WakeToRun",
                            "Enabled",
                            "Hidden",
                            "DeleteExpiredTaskAfter",
                            "IdleSettings",
                            "NetworkSettings",
                            "ExecutionTimeLimit",
                            "Priority",
                            "RunOnlyIfIdle",
                            "UseUnifiedSchedulingEngine",
                            "DisallowStartOnRemoteAppSession"),
            "Exec", List.of("Command", "Arguments", "WorkingDirectory"));

    private static BootTask task(String... arguments) {
        return new BootTask(SID, JAVA, List.of(arguments), FOLDER, EXPIRES);
    }

    private static Element parsed(BootTask task) throws Exception {
        DocumentBuilderFactory factory = DocumentBuilderFactory.newDefaultInstance();
        factory.setNamespaceAware(true);
        return factory.newDocumentBuilder()
                .parse(new ByteArrayInputStream(task.file()))
                .getDocumentElement();
    }

    private static List<Element> children(Element parent) {
        List<Element> children = new ArrayList<>();
        for (Node n = parent.getFirstChild(); n != null; n = n.getNextSibling()) {
            if (n instanceof Element e) {
                children.add(e);
            }
        }
        return children;
    }

    private static Map<String, String> texts(Element root) {
        Map<String, String> texts = new TreeMap<>();
        for (Element child : children(root)) {
            if (children(child).isEmpty()) {
                texts.put(child.getLocalName(), child.getTextContent());
            } else {
                texts.putAll(texts(child));
            }
        }
        return texts;
    }

    @Test
    void everyElementIsOneThatTheSchemaKnowsAtItsPlaceAndAtMostOnce() throws Exception {
        List<Element> open = new ArrayList<>(List.of(parsed(task("resume"))));
        List<String> checked = new ArrayList<>();
        while (!open.isEmpty()) {
            Element element = open.remove(0);
            List<String> names =
                    children(element).stream().map(Element::getLocalName).toList();
            assertThat(element.getNamespaceURI()).isEqualTo("http://schemas.microsoft.com/windows/2004/02/mit/task");
            assertThat(names).doesNotHaveDuplicates();
            if (ALLOWED.containsKey(element.getLocalName())) {
                checked.add(element.getLocalName());
                assertThat(names).isSubsetOf(ALLOWED.get(element.getLocalName()));
            }
            if (element.getLocalName().equals("BootTrigger")) { // a sequence; the others are xs:all
                List<String> order = ALLOWED.get("BootTrigger");
                assertThat(names.stream().map(order::indexOf).toList()).isSorted();
            }
            open.addAll(children(element));
        }
        assertThat(checked).containsExactlyInAnyOrderElementsOf(ALLOWED.keySet());
    }

    @Test
    void startsAtBootWithTheUsersLowerRightsAndNoStoredPassword() throws Exception {
        Map<String, String> texts = texts(parsed(task("resume")));

        assertThat(texts)
                .containsEntry("UserId", SID)
                .containsEntry("LogonType", "S4U")
                .containsEntry("RunLevel", "LeastPrivilege")
                .containsEntry("Hidden", "false")
                .containsEntry("AllowStartOnDemand", "false");
    }

    /** Both default to true: the task would be ended just when the adapter drops. */
    @Test
    void isNotEndedOnBattery() throws Exception {
        assertThat(texts(parsed(task("resume"))))
                .containsEntry("DisallowStartIfOnBatteries", "false")
                .containsEntry("StopIfGoingOnBatteries", "false");
    }

    /** Without an end boundary the scheduler cannot tell when a task has expired. */
    @Test
    void expiresAndDeletesItselfButHasNoStartThatAClockSetBackWouldNeverReach() throws Exception {
        assertThat(texts(parsed(task("resume"))))
                .containsEntry("EndBoundary", "2026-12-02T14:00:00Z")
                .containsEntry("DeleteExpiredTaskAfter", "PT0S")
                .doesNotContainKey("StartBoundary");
    }

    @Test
    void priorityIsNotBelowThatOfOrdinaryPrograms() throws Exception {
        assertThat(Integer.parseInt(texts(parsed(task("resume"))).get("Priority")))
                .isBetween(4, 6);
    }

    @Test
    void argumentsArriveAsTheyWereGiven() throws Exception {
        Map<String, String> texts = texts(parsed(task("-jar", "C:\\a b\\agent.jar", "--note=<&>\"x\"", "end\\")));

        assertThat(texts.get("Command")).isEqualTo(JAVA);
        assertThat(texts.get("Arguments")).isEqualTo("-jar \"C:\\a b\\agent.jar\" \"--note=<&>\\\"x\\\"\" end\\");
    }

    /** Pairs of Microsoft's "Parsing C Command-Line Arguments", the other way round. */
    @ParameterizedTest
    @CsvSource(
            quoteCharacter = '`',
            value = {
                "a b c|\"a b c\"",
                "ab\"c|\"ab\\\"c\"",
                "a\\b c|\"a\\b c\"",
                "a b\\|\"a b\\\\\"",
                "a\\\"b|\"a\\\\\\\"b\""
            },
            delimiter = '|')
    void quotationMarksAndBackslashesAreTakenApartAgain(String argument, String expected) {
        assertThat(BootTask.quoted(argument)).isEqualTo(expected);
    }

    @ParameterizedTest
    @ValueSource(
            strings = {
                "java.exe",
                "\\\\server\\share\\java.exe",
                "C:java.exe",
                "C:\\a\\..\\java.exe",
                "%TEMP%\\java.exe",
                "C:\\%TEMP%\\java.exe",
                "\\\\?\\C:\\java.exe",
                "C:\\a\nb.exe",
                "/usr/bin/java"
            })
    void programThatIsNotAnAbsolutePathOnADriveIsRefused(String program) {
        assertThatThrownBy(() -> new BootTask(SID, program, List.of(), FOLDER, EXPIRES))
                .isInstanceOf(IllegalArgumentException.class);
    }

    /** S-1-5-18 is the system, S-1-5-32-544 the administrators, S-1-5-19 a service's account. */
    @ParameterizedTest
    @ValueSource(strings = {"S-1-5-18", "S-1-5-32-544", "S-1-5-19", "", "SYSTEM", "S-1-5-21-1-2-3-1001</UserId>"})
    void neverRunsAsTheSystemOrAGroup(String sid) {
        assertThatThrownBy(() -> new BootTask(sid, JAVA, List.of(), FOLDER, EXPIRES))
                .isInstanceOf(IllegalArgumentException.class);
    }

    @Test
    void argumentsThatTheSchedulerWouldFillInAreRefused() {
        assertThatThrownBy(() -> task("$(Arg0)").xml()).hasMessageContaining("scheduler");
    }
}

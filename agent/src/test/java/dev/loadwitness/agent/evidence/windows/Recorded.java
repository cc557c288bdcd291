// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.windows;

import java.time.Instant;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import java.util.TreeMap;

/**
 * Event texts in the form of {@code EvtRender}, written by hand after Microsoft's documents "Event Schema",
 * "SystemPropertiesType" and "EventDataType"; names and order of the data after its articles (see {@link Kind}) and, where
 * those are silent, after events that users have published. Values are made up. It is also the log that holds them.
 */
final class Recorded implements SystemLog {
    static final String KERNEL_POWER = "Microsoft-Windows-Kernel-Power";
    static final String KERNEL_GENERAL = "Microsoft-Windows-Kernel-General";
    static final String WHEA = "Microsoft-Windows-WHEA-Logger";

    private final List<String> ends = new ArrayList<>();
    private final List<String> hardware = new ArrayList<>();
    private String notLearned = "";
    private long record = 70_000;

    static String event(
            String provider, String number, int level, Instant time, long record, String user, String data) {
        return "<Event xmlns='http://schemas.microsoft.com/win/2004/08/events/event'><System><Provider Name='"
                + provider
                + "'/>" + number + "<Version>0</Version><Level>" + level
                + "</Level><Task>0</Task><Opcode>0</Opcode><Keywords>0x8000000000000000</Keywords>"
                + "<TimeCreated SystemTime='" + time + "'/><EventRecordID>" + record
                + "</EventRecordID><Correlation/><Execution ProcessID='4' ThreadID='8'/><Channel>System</Channel>"
                + "<Computer>AW17</Computer><Security" + (user.isEmpty() ? "" : " UserID='" + user + "'")
                + "/></System><EventData>" + data + "</EventData></Event>";
    }

    private static String id(int id) {
        return "<EventID>" + id + "</EventID>";
    }

    private static String named(Map<String, String> data) {
        StringBuilder xml = new StringBuilder();
        new TreeMap<>(data)
                .forEach((name, value) -> xml.append("<Data Name='")
                        .append(name)
                        .append("'>")
                        .append(value)
                        .append("</Data>"));
        return xml.toString();
    }

    private static String plain(String... values) {
        StringBuilder xml = new StringBuilder();
        for (String value : values) {
            xml.append(value.isEmpty() ? "<Data/>" : "<Data>" + value + "</Data>");
        }
        return xml.toString();
    }

    Recorded raw(String xml) {
        ends.add(xml);
        return this;
    }

    private Recorded add(String provider, int id, int level, String time, String user, String data) {
        return raw(event(provider, id(id), level, Instant.parse(time), record++, user, data));
    }

    /** As a start without a report of the end before: version, log service, and the kernel's own, a little earlier. */
    Recorded started(String time) {
        String later = Instant.parse(time).plusSeconds(4).toString();
        add("EventLog", 6009, 4, later, "", plain("10.00.", "19045", "", "Multiprocessor Free", "0"));
        add("EventLog", 6005, 4, later, "", "");
        return add(KERNEL_GENERAL, 12, 4, time, "S-1-5-18", named(Map.of("MajorVersion", "10", "StartTime", time)));
    }

    Recorded dirty(String time, String binary) {
        return raw(event(
                "EventLog",
                "<EventID Qualifiers='32768'>6008</EventID>",
                2,
                Instant.parse(time),
                record++,
                "",
                plain("14:00:10", "\u200e25/\u200e11/\u200e2026", "", "", "3612", "", "") + "<Binary>" + binary
                        + "</Binary>"));
    }

    Recorded unexpected(String time, Map<String, String> data) {
        Map<String, String> all = new TreeMap<>(Map.of(
                "BugcheckCode", "0",
                "BugcheckParameter1", "0x0",
                "SleepInProgress", "0",
                "PowerButtonTimestamp", "0",
                "BootAppStatus", "0",
                "LongPowerButtonPressDetected", "false"));
        all.putAll(data);
        return add(KERNEL_POWER, 41, 1, time, "S-1-5-18", named(all));
    }

    Recorded bugCheck(String time, String text) {
        return raw(event(
                "Microsoft-Windows-WER-SystemErrorReporting",
                "<EventID Qualifiers='16384'>1001</EventID>",
                2,
                Instant.parse(time),
                record++,
                "",
                named(Map.of("param1", text, "param2", "C:\\Windows\\MEMORY.DMP", "param3", "0"))));
    }

    Recorded asked(String time, String process, String type, String user) {
        return add(
                "User32",
                1074,
                4,
                time,
                user,
                named(Map.of(
                        "param1", process + " (AW17)",
                        "param2", "AW17",
                        "param3", "Other (Planned)",
                        "param4", "0x80000000",
                        "param5", type,
                        "param7", "AW17\\m.okonjo")));
    }

    Recorded transition(String time, int action) {
        return add(
                KERNEL_POWER,
                109,
                4,
                time,
                "",
                named(Map.of("ShutdownActionType", "" + action, "ShutdownEventCode", "0", "ShutdownReason", "5")));
    }

    Recorded stopped(String time) {
        add(KERNEL_GENERAL, 13, 4, time, "S-1-5-18", named(Map.of("StopTime", time)));
        return add("EventLog", 6006, 4, time, "", "");
    }

    Recorded power(int id, String time, String... data) {
        return add(KERNEL_POWER, id, 4, time, "", plain(data));
    }

    Recorded other(String provider, int id, String time) {
        return add(provider, id, 3, time, "", "");
    }

    Recorded hardware(int id, int level, String time) {
        hardware.add(event(WHEA, id(id), level, Instant.parse(time), record++, "S-1-5-19", plain("3")));
        return this;
    }

    Recorded notLearned(String why) {
        notLearned = why;
        return this;
    }

    @Override
    public Answer newest(String query, int most, java.time.Duration limit) {
        List<String> newest = new ArrayList<>(query.contains(WHEA) ? hardware : ends);
        java.util.Collections.reverse(newest);
        return new Answer(newest.subList(0, Math.min(most, newest.size())), notLearned);
    }
}

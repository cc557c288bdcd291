// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.fuzz;

import static java.nio.charset.StandardCharsets.US_ASCII;
import static java.nio.charset.StandardCharsets.UTF_8;

import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.Word;
import java.io.ByteArrayOutputStream;
import java.security.MessageDigest;
import java.security.NoSuchAlgorithmException;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.HexFormat;
import java.util.List;
import java.util.stream.Collectors;
import java.util.stream.Stream;

/**
 * Changes a log where it has a structure: records, members, values, channels, events, the procedure and the sheet inside.
 * Then the chain is made to fit, as a faulty writer or a careful forger would; now and then it is broken on purpose.
 */
final class LogMutation {
    private static final int MOST_CHANGES = 12;

    private static final List<String> METRICS = List.of(
            "hw.temperature Cel gauge",
            "hw.power W gauge",
            "hw.energy J counter",
            "lw.power.limit W gauge",
            "lw.power.highest W gauge",
            "hw.fan.speed rpm gauge",
            "lw.gpu.speed Hz gauge",
            "hw.gpu.utilization 1 gauge",
            "hw.battery.charge 1 gauge",
            "lw.battery.state 1 gauge",
            "lw.battery.power W gauge",
            "lw.battery.charge.start 1 gauge",
            "lw.adapter.online 1 gauge",
            "lw.throttle.count {event} counter",
            "lw.throttle.time s counter",
            "lw.throttle.active 1 gauge",
            "lw.work.verified {unit} counter",
            "lw.work.errors {error} counter",
            "hw.errors {error} counter",
            "lw.errors.corrected {error} counter",
            "lw.pcie.replays {event} counter",
            "lw.device.awake 1 gauge",
            "lw.unheard.of 1 gauge");
    private static final List<String> ROLES = words(Role.values());
    private static final List<String> KINDS = words(EventKind.values());
    private static final List<String> REASONS = words(CloseReason.values());
    private static final List<String> CAUSES = words(Cause.values());
    private static final List<String> LIMITS =
            Arrays.stream(LimitType.values()).map(LimitType::word).toList();
    private static final List<String> FACTS = List.of(
            "stage",
            "why",
            "seconds",
            "load",
            "role",
            "level",
            "period",
            "duty",
            "since",
            "edges",
            "check",
            "caught",
            "what",
            "channel",
            "from",
            "to",
            "count",
            "damage",
            "place",
            "device",
            "id",
            "removable",
            "witness",
            "text",
            "fault",
            "code",
            "meaning",
            "detail",
            "source",
            "planted",
            "deviceType",
            "standIn",
            "peakGflops",
            "watts",
            "rate");
    private static final List<String> VALUES = List.of(
            "\"soak\"",
            "\"idle\"",
            "\"completed\"",
            "\"gpu-discrete\"",
            "\"cpu\"",
            "\"power-off\"",
            "\"sleep\"",
            "\"replug\"",
            "\"cool-down\"",
            "true",
            "false",
            "0.5",
            "1",
            "10",
            "\"0,500000,1000000\"",
            "\"gpu-hang\"",
            "\"memory-corrected\"",
            "\"keyboard\"",
            "\"gpu.power.limit\"",
            "\"planted-0\"");
    private static final List<String> ENDINGS = List.of(
            "same-boot",
            "system-log",
            "system-log-seconds",
            "login-records",
            "asked-by",
            "thermal-message",
            "asleep",
            "crash-store",
            "crash-record",
            "watchdog",
            "reset-reason",
            "reset-reason-before",
            "reset-text",
            "hardware-error",
            "power-button",
            "off-seconds",
            "agent-crash",
            "agent-killed",
            "not-learned");
    private static final List<String> ENDED = List.of(
            "yes",
            "no",
            "shutdown",
            "restart",
            "stopped",
            "none",
            "power-button",
            "user",
            "thermal",
            "empty",
            "panic",
            "oops",
            "old",
            "undated",
            "reset",
            "overheat",
            "absent",
            "watchdog",
            "thermal,watchdog",
            "fatal",
            "held",
            "-1e308",
            "1e9",
            "report",
            "out-of-memory");

    private final Choices choices;
    private final List<String> lines;

    /** A seed as it is. */
    static byte[] seed() {
        return of(new Choices(new byte[0]));
    }

    private LogMutation(Choices choices) {
        this.choices = choices;
        this.lines = new ArrayList<>(choices.of(Seeds.LOGS));
    }

    private static <E extends Enum<E> & Word> List<String> words(E[] family) {
        return Arrays.stream(family).map(Word::word).toList();
    }

    static byte[] of(Choices choices) {
        LogMutation mutation = new LogMutation(choices);
        for (int i = 0; i < MOST_CHANGES && mutation.choices.left() && !mutation.lines.isEmpty(); i++) {
            mutation.change();
        }
        return mutation.chained();
    }

    private void change() {
        switch (choices.below(20)) {
            case 0, 1, 2, 3 -> value(line());
            case 4 -> members(line());
            case 5 -> order();
            case 6, 7 -> lines.add(1 + choices.below(lines.size()), event());
            case 8, 9, 10 -> course();
            case 11, 12, 13 -> channel();
            case 14 -> times();
            case 15 -> attachment("procedure");
            case 16 -> attachment("jobSheet");
            case 17 -> close();
            case 18 -> lines.add(1 + choices.below(lines.size()), evidence());
            default ->
                set("header", choices.of(List.of("simulated", "utc", "ambient", "earlier", "withheld", "facts")));
        }
    }

    /** Mostly one that is no sample: of those there are many, and they are alike. */
    private int line() {
        int at = choices.below(lines.size());
        for (int i = 0; i < 3 && lines.get(at).contains("\"type\":\"sample\""); i++) {
            at = choices.below(lines.size());
        }
        return at;
    }

    private void value(int at) {
        JsonText json = new JsonText(lines.get(at));
        if (json.parts().isEmpty()) {
            return;
        }
        JsonText.Part part = choices.of(json.parts());
        lines.set(at, json.with(part, choices.oneOf(4) ? choices.of(VALUES) : choices.of(Odd.JSON)));
    }

    private void members(int at) {
        JsonText json = new JsonText(lines.get(at));
        if (json.parts().isEmpty()) {
            return;
        }
        JsonText.Part part = choices.of(json.parts());
        lines.set(
                at,
                switch (choices.below(4)) {
                    case 0 -> json.without(part);
                    case 1 -> json.twice(part);
                    case 2 -> part.isMember() ? json.renamed(part, choices.of(FACTS)) : json.twice(part);
                    default -> json.with(part, json.of(choices.of(json.parts())));
                });
    }

    private void order() {
        int at = choices.below(lines.size());
        switch (choices.below(4)) {
            case 0 -> lines.remove(at);
            case 1 -> lines.add(choices.below(lines.size() + 1), lines.get(at));
            case 2 -> lines.add(choices.below(lines.size()), lines.remove(at));
            default -> lines.subList(at, lines.size()).clear();
        }
    }

    private String place() {
        // As the line before has it, so that it is not thrown out for its place.
        for (int i = lines.size() - 1; i > 0; i--) {
            String line = lines.get(choices.oneOf(2) ? i : choices.below(lines.size()));
            int from = line.indexOf("\"seg\":");
            int to = line.indexOf(',', line.indexOf("\"t\":"));
            if (from > 0 && to > from) {
                return line.substring(from, to);
            }
        }
        return "\"seg\":0,\"t\":0";
    }

    private String event() {
        String facts = Stream.generate(() -> '"' + choices.of(FACTS) + "\":"
                        + (choices.oneOf(2) ? choices.of(Odd.JSON) : choices.of(VALUES)))
                .limit(choices.below(6))
                .collect(Collectors.joining(",", "{", "}"));
        return "{\"n\":0,\"type\":\"event\"," + place() + ",\"utc\":\"2026-11-25T14:00:05.000Z\",\"kind\":\""
                + choices.of(KINDS) + "\",\"facts\":" + facts;
    }

    private String evidence() {
        String facts = Stream.generate(() -> '"' + choices.of(ENDINGS) + "\":\"" + choices.of(ENDED) + '"')
                .limit(choices.below(6))
                .collect(Collectors.joining(",", "{", "}"));
        return "{\"n\":0,\"type\":\"boot-evidence\"," + place() + ",\"facts\":" + facts;
    }

    /** Other readings for one channel through all samples, or all from one on. */
    private void course() {
        int column = choices.below(32);
        int from = choices.below(lines.size());
        int shape = choices.below(8);
        String odd = choices.of(Odd.JSON);
        String other = choices.of(VALUES);
        for (int i = from, k = 0; i < lines.size(); i++) {
            String line = lines.get(i);
            int open = line.indexOf("\"v\":[");
            if (open < 0 || !line.contains("\"type\":\"sample\"")) {
                continue;
            }
            String[] values = line.substring(open + 5, line.lastIndexOf(']')).split(",", -1);
            int at = column % values.length;
            k++;
            values[at] = switch (shape) {
                case 0 -> odd;
                case 1 -> "null";
                case 2 -> k % 2 == 0 ? odd : values[at];
                case 3 -> values[at].startsWith("-") ? values[at].substring(1) : "-" + values[at];
                case 4 -> values[at] + "e300";
                case 5 -> String.valueOf(k * 40);
                case 6 -> k % 2 == 0 ? other : odd;
                default -> String.valueOf(120 - k);
            };
            lines.set(i, line.substring(0, open + 5) + String.join(",", values) + "]");
        }
    }

    private void channel() {
        List<Integer> tables = new ArrayList<>();
        for (int i = 0; i < lines.size(); i++) {
            if (lines.get(i).contains("\"type\":\"channels\"")) {
                tables.add(i);
            }
        }
        if (tables.isEmpty()) {
            return;
        }
        int at = choices.of(tables);
        String text = lines.get(at);
        JsonText json = new JsonText(text);
        List<JsonText.Part> channels = json.parts().stream()
                .filter(p -> !p.isMember() && text.charAt(p.from()) == '{')
                .toList();
        if (channels.isEmpty()) {
            return;
        }
        JsonText.Part part = choices.of(channels);
        String channel = json.of(part);
        String changed =
                switch (choices.below(8)) {
                    case 0 -> {
                        String[] metric = choices.of(METRICS).split(" ");
                        yield set(
                                set(set(channel, "metric", quoted(metric[0])), "unit", quoted(metric[1])),
                                "kind",
                                quoted(metric[2]));
                    }
                    case 1 -> set(channel, "role", quoted(choices.of(ROLES)));
                    case 2 -> set(channel, "resolution", choices.of(Odd.JSON));
                    case 3 -> set(channel, "standardUncertainty", choices.of(Odd.JSON));
                    case 4 ->
                        set(channel, "limits", "{" + quoted(choices.of(LIMITS)) + ":" + choices.of(Odd.JSON) + "}");
                    case 5 ->
                        set(channel, choices.of(List.of("label", "component", "source", "id")), choices.of(Odd.JSON));
                    case 6 -> set(channel, "cause", quoted(choices.of(CAUSES)));
                    default -> set(channel, "kind", quoted(choices.oneOf(2) ? "gauge" : "counter"));
                };
        lines.set(at, json.with(part, changed));
    }

    private static String quoted(String word) {
        return '"' + word + '"';
    }

    /** Of an object, a member set or put in. */
    private static String set(String object, String key, String value) {
        String probe = "[" + object; // so that the object is no root, and has places
        JsonText json = new JsonText(probe);
        for (JsonText.Part p : json.parts()) {
            if (p.key().equals(key)) {
                return json.with(p, value).substring(1);
            }
        }
        return object.startsWith("{}") || object.length() < 3
                ? object
                : "{" + quoted(key) + ":" + value + "," + object.substring(1);
    }

    private void set(String type, String key) {
        for (int i = 0; i < lines.size(); i++) {
            if (lines.get(i).contains("\"type\":\"" + type + "\"")) {
                JsonText json = new JsonText(lines.get(i));
                for (JsonText.Part p : json.parts()) {
                    if (p.key().equals(key)) {
                        lines.set(i, json.with(p, choices.of(Odd.JSON)));
                        return;
                    }
                }
            }
        }
    }

    /** The clock runs otherwise: faster, slower, with a jump, or not at all. */
    private void times() {
        int from = choices.below(lines.size());
        int shape = choices.below(6);
        for (int i = from; i < lines.size(); i++) {
            String line = lines.get(i);
            int begin = line.indexOf("\"t\":") + 4;
            int end = line.indexOf(',', begin);
            if (begin < 4 || end < 0) {
                continue;
            }
            long t;
            try {
                t = Long.parseLong(line.substring(begin, end));
            } catch (NumberFormatException e) {
                continue;
            }
            long now =
                    switch (shape) {
                        case 0 -> t * 1000;
                        case 1 -> t / 1_000_000;
                        case 2 -> t + 3_600_000_000_000L;
                        case 3 -> t + Long.MAX_VALUE / 2;
                        case 4 -> 0;
                        default -> t * 60;
                    };
            lines.set(i, line.substring(0, begin) + now + line.substring(end));
        }
    }

    /** The procedure or the sheet inside the header, changed where it has a structure, its digest made to fit. */
    private void attachment(String which) {
        String header = lines.get(0);
        JsonText json = new JsonText(header);
        for (JsonText.Part p : json.parts()) {
            if (p.key().equals("text") && within(json, p, which)) {
                String text = json.of(p).replace("\\n", "\n").replace("\\\"", "\"");
                String changed = YamlMutation.of(text.substring(1, Math.max(1, text.length() - 1)), choices);
                lines.set(
                        0,
                        json.with(
                                p,
                                '"'
                                        + changed.replace("\\", "\\\\")
                                                .replace("\"", "\\\"")
                                                .replace("\n", "\\n")
                                                .replace("\t", "\\t")
                                        + '"'));
                return;
            }
        }
    }

    private static boolean within(JsonText json, JsonText.Part part, String key) {
        return json.parts().stream()
                .anyMatch(p -> p.key().equals(key) && p.from() < part.from() && part.to() <= p.to());
    }

    private void close() {
        int last = lines.size() - 1;
        if (lines.get(last).contains("\"type\":\"close\"")) {
            lines.set(
                    last,
                    "{"
                            + set(lines.get(last), "reason", quoted(choices.of(REASONS)))
                                    .substring(1));
        }
    }

    private byte[] chained() {
        ByteArrayOutputStream out = new ByteArrayOutputStream(1 << 14);
        byte[] chain = "0".repeat(64).getBytes(US_ASCII);
        boolean renumbered = !choices.oneOf(16);
        int n = 0;
        for (String line : lines) {
            String content = line;
            if (renumbered && line.startsWith("{\"n\":")) {
                int comma = line.indexOf(',');
                content = comma < 0 ? line : "{\"n\":" + n + line.substring(comma);
            }
            n++;
            byte[] before = content.getBytes(UTF_8);
            MessageDigest sha = sha256();
            sha.update(chain);
            chain = HexFormat.of().formatHex(sha.digest(before)).getBytes(US_ASCII);
            out.writeBytes(before);
            out.writeBytes(",\"chain\":\"".getBytes(US_ASCII));
            out.writeBytes(chain);
            out.writeBytes("\"}\n".getBytes(US_ASCII));
        }
        byte[] log = out.toByteArray();
        return choices.oneOf(12) ? broken(log) : log;
    }

    private byte[] broken(byte[] log) {
        if (log.length == 0) {
            return log;
        }
        int at = choices.below(log.length);
        switch (choices.below(4)) {
            case 0 -> {
                return Arrays.copyOf(log, at);
            }
            case 1 -> log[at] ^= (byte) (1 + choices.below(255));
            case 2 -> Arrays.fill(log, at, Math.min(log.length, at + 100), (byte) 0);
            default -> {
                byte[] longer = Arrays.copyOf(log, log.length + 40);
                System.arraycopy(log, at, longer, at + 40, log.length - at);
                return longer;
            }
        }
        return log;
    }

    static MessageDigest sha256() {
        try {
            return MessageDigest.getInstance("SHA-256");
        } catch (NoSuchAlgorithmException e) {
            throw new IllegalStateException("every Java runtime has SHA-256", e);
        }
    }
}

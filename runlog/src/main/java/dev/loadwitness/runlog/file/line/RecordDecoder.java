// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.line;

import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.BootEvidence;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelKind;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.EarlierAttempt;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Part;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.RunTime;
import dev.loadwitness.runlog.Sample;
import dev.loadwitness.runlog.TornTail;
import dev.loadwitness.runlog.UnknownRecord;
import dev.loadwitness.runlog.Word;
import dev.loadwitness.runlog.file.line.JsonTree.Digits;
import java.time.Duration;
import java.time.Instant;
import java.util.ArrayList;
import java.util.EnumMap;
import java.util.Iterator;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.Set;
import java.util.regex.Pattern;

/** Any line of a log, in whatever layout JSON allows, as a record. Slow and careful; samples have {@link SampleLine}. */
public final class RecordDecoder {
    private static final double MOST_UNDURABLE_SECONDS = 1e6;
    private static final double MOST_STATED = 1e15;
    private static final Pattern RUN_ID = Pattern.compile("[0-9a-f]{32}");

    private static final Map<String, Set<String>> MEMBERS = Map.of(
            "header",
                    Set.of(
                            "format",
                            "run",
                            "utc",
                            "ticket",
                            "nonce",
                            "earlier",
                            "simulated",
                            "facts",
                            "withheld",
                            "agent",
                            "procedure",
                            "jobSheet",
                            "ambient",
                            "undurableSeconds"),
            "part", Set.of("run", "part", "goodBytes", "goodChain"),
            "boot", Set.of("seg", "t", "utc", "bootId", "bootTimeSeconds", "utcTrusted", "torn"),
            "channels", Set.of("seg", "t", "channels"),
            "boot-evidence", Set.of("seg", "t", "facts"),
            "sample", Set.of("seg", "t", "utc", "v"),
            "event", Set.of("seg", "t", "utc", "kind", "facts"),
            "close", Set.of("seg", "t", "utc", "reason", "detail", "samples", "events"));
    private static final Set<String> EVERYWHERE = Set.of("n", "type", "must", "chain");

    private final UtcText utcText = new UtcText();

    /**
     * A record and what stands around it.
     *
     * @param unknownMust true if the line must be understood, and holds a type or a member that is not known here
     */
    public record Line(long n, String type, LogRecord record, boolean unknownMust) {}

    public Line decode(byte[] bytes, int from, int to) throws Fault {
        Map<String, Object> members = JsonTree.parse(bytes, from, to);
        Node node = new Node(members, "");
        Iterator<String> names = members.keySet().iterator();
        if (!names.next().equals("n") || !names.hasNext() || !names.next().equals("type")) {
            throw new Fault(Damage.Kind.WRONG_SHAPE, "the first two members are not 'n' and 'type'");
        }
        long n = node.integer("n", 0, Format.MAX_N);
        String type = node.text("type");
        boolean must = members.containsKey("must") && node.flag("must");
        Set<String> known = MEMBERS.get(type);
        boolean strange = known == null
                || members.keySet().stream().anyMatch(name -> !known.contains(name) && !EVERYWHERE.contains(name));
        try {
            return new Line(n, type, record(type, node, must), must && strange);
        } catch (IllegalArgumentException e) {
            throw new Fault(Damage.Kind.WRONG_SHAPE, String.valueOf(e.getMessage()));
        }
    }

    /** The format's version if this line is a header of whatever version; else empty. */
    public static String format(byte[] bytes, int from, int to) {
        try {
            Map<String, Object> members = JsonTree.parse(bytes, from, to);
            return "header".equals(members.get("type")) && members.get("format") instanceof String format ? format : "";
        } catch (Fault e) {
            return "";
        }
    }

    private LogRecord record(String type, Node node, boolean must) throws Fault {
        return switch (type) {
            case "header" -> header(node);
            case "part" ->
                new Part(
                        node.text("run"),
                        (int) node.integer("part", 2, Integer.MAX_VALUE),
                        node.integer("goodBytes", 0, Long.MAX_VALUE),
                        node.chain("goodChain"));
            case "boot" ->
                new Boot(
                        node.at(),
                        utc(node),
                        node.text("bootId"),
                        node.has("bootTimeSeconds") ? node.quantity("bootTimeSeconds", 0) : Double.NaN,
                        node.flag("utcTrusted"),
                        node.has("torn") ? Optional.of(torn(node.object("torn"))) : Optional.empty());
            case "channels" -> channels(node);
            case "boot-evidence" ->
                new BootEvidence(node.at(), node.object("facts").texts());
            case "sample" -> new Sample(node.at(), utc(node), node.values("v"));
            case "event" ->
                new Event(
                        node.at(),
                        utc(node),
                        node.text("kind"),
                        node.object("facts").facts());
            case "close" ->
                new Close(
                        node.at(),
                        utc(node),
                        node.text("reason"),
                        node.text("detail"),
                        node.integer("samples", 0, Long.MAX_VALUE),
                        node.integer("events", 0, Long.MAX_VALUE));
            default -> new UnknownRecord(type, must);
        };
    }

    private Header header(Node node) throws Fault {
        node.text("format");
        List<EarlierAttempt> earlier = new ArrayList<>();
        for (Node attempt : node.objects("earlier")) {
            earlier.add(new EarlierAttempt(attempt.text("run"), attempt.text("chain"), attempt.text("end")));
        }
        Map<String, Map<String, String>> facts = new LinkedHashMap<>();
        Node groups = node.object("facts");
        for (String group : groups.members.keySet()) {
            facts.put(group, groups.object(group).texts());
        }
        boolean ambient = node.has("ambient");
        double undurable = node.number("undurableSeconds");
        if (undurable < 0 || undurable > MOST_UNDURABLE_SECONDS) {
            throw node.wrong("undurableSeconds", "from 0 to 1000000");
        }
        String run = node.text("run");
        if (!RUN_ID.matcher(run).matches()) {
            throw node.wrong("run", "32 lower-case hexadecimal digits");
        }
        return new Header(
                run,
                utc(node),
                node.text("ticket"),
                node.text("nonce"),
                earlier,
                node.flag("simulated"),
                facts,
                node.strings("withheld"),
                node.text("agent"),
                attachment(node.object("procedure")),
                node.has("jobSheet") ? Optional.of(attachment(node.object("jobSheet"))) : Optional.empty(),
                ambient
                        ? OptionalDouble.of(node.object("ambient").quantity("celsius", -MOST_STATED))
                        : OptionalDouble.empty(),
                ambient ? node.object("ambient").text("how") : "",
                Duration.ofNanos(Math.round(undurable * 1e9)));
    }

    private static Attachment attachment(Node node) throws Fault {
        return new Attachment(node.text("name"), node.text("text"), node.text("sha256"));
    }

    private static TornTail torn(Node node) throws Fault {
        return new TornTail(
                node.integer("offset", 0, Long.MAX_VALUE),
                node.integer("length", 0, Long.MAX_VALUE),
                node.text("sha256"));
    }

    private static ChannelTable channels(Node node) throws Fault {
        RunTime at = node.at();
        List<Channel> channels = new ArrayList<>();
        for (Node c : node.objects("channels")) {
            Map<LimitType, Double> limits = new EnumMap<>(LimitType.class);
            Node stated = c.object("limits");
            for (String name : stated.members.keySet()) {
                double value = stated.quantity(name, -MOST_STATED);
                LimitType.find(name).ifPresent(type -> limits.put(type, value));
            }
            channels.add(new Channel(
                    c.text("id"),
                    new Metric(c.text("metric"), c.text("unit"), c.word(ChannelKind.class, "kind")),
                    c.word(Role.class, "role"),
                    c.text("component"),
                    c.text("label"),
                    c.text("source"),
                    c.has("cause") ? Optional.of(c.word(Cause.class, "cause")) : Optional.empty(),
                    c.has("resolution") ? c.quantity("resolution", 0) : Double.NaN,
                    c.has("standardUncertainty") ? c.quantity("standardUncertainty", 0) : Double.NaN,
                    limits));
        }
        return new ChannelTable(at, channels);
    }

    private Instant utc(Node node) throws Fault {
        Instant utc = utcText.parse(node.text("utc"));
        if (utc == null) {
            throw node.wrong("utc", "a UTC time like 2026-11-25T14:00:05.000Z");
        }
        return utc;
    }

    /** An object of the line, and where in the line it is. */
    private record Node(Map<String, Object> members, String path) {
        Fault wrong(String name, String wanted) {
            return new Fault(Damage.Kind.WRONG_SHAPE, "member '" + path + name + "' is missing or not " + wanted);
        }

        boolean has(String name) {
            return members.containsKey(name);
        }

        String text(String name) throws Fault {
            if (members.get(name) instanceof String text) {
                return text;
            }
            throw wrong(name, "a text");
        }

        String chain(String name) throws Fault {
            String text = text(name);
            if (!Chain.isHex(text)) {
                throw wrong(name, "64 lower-case hex digits");
            }
            return text;
        }

        boolean flag(String name) throws Fault {
            if (members.get(name) instanceof Boolean flag) {
                return flag;
            }
            throw wrong(name, "true or false");
        }

        double number(String name) throws Fault {
            if (members.get(name) instanceof Digits digits) {
                return digits.value();
            }
            throw wrong(name, "a number");
        }

        double quantity(String name, double least) throws Fault {
            double value = number(name);
            if (value < least || value > MOST_STATED) {
                throw wrong(name, "a number from " + (least == 0 ? "0" : "-10^15") + " to 10^15");
            }
            return value;
        }

        long integer(String name, long least, long most) throws Fault {
            if (members.get(name) instanceof Digits digits && digits.isInteger()) {
                long value = Long.parseLong(digits.text());
                if (value >= least && value <= most) {
                    return value;
                }
            }
            throw wrong(name, "an integer from " + least + " to " + most);
        }

        <E extends Enum<E> & Word> E word(Class<E> family, String name) throws Fault {
            String word = text(name);
            return Word.find(family, word)
                    .orElseThrow(() -> new Fault(
                            Damage.Kind.WRONG_SHAPE, "member '" + path + name + "' is a word this version lacks"));
        }

        RunTime at() throws Fault {
            return new RunTime((int) integer("seg", 0, Integer.MAX_VALUE), integer("t", 0, Long.MAX_VALUE));
        }

        Node object(String name) throws Fault {
            if (members.get(name) instanceof Map<?, ?> object) {
                return new Node(JsonTree.object(object), path + name + ".");
            }
            throw wrong(name, "an object");
        }

        List<?> array(String name) throws Fault {
            if (members.get(name) instanceof List<?> array) {
                return array;
            }
            throw wrong(name, "an array");
        }

        List<Node> objects(String name) throws Fault {
            List<Node> nodes = new ArrayList<>();
            for (Object element : array(name)) {
                if (!(element instanceof Map<?, ?> object)) {
                    throw wrong(name, "an array of objects");
                }
                nodes.add(new Node(JsonTree.object(object), path + name + "[]."));
            }
            return nodes;
        }

        List<String> strings(String name) throws Fault {
            List<String> strings = new ArrayList<>();
            for (Object element : array(name)) {
                if (!(element instanceof String text)) {
                    throw wrong(name, "an array of texts");
                }
                strings.add(text);
            }
            return strings;
        }

        Map<String, String> texts() throws Fault {
            Map<String, String> texts = new LinkedHashMap<>();
            for (String name : members.keySet()) {
                texts.put(name, text(name));
            }
            return texts;
        }

        Map<String, Object> facts() throws Fault {
            Map<String, Object> facts = new LinkedHashMap<>();
            for (Map.Entry<String, Object> fact : members.entrySet()) {
                Object value = fact.getValue();
                if (value instanceof Digits digits) {
                    facts.put(fact.getKey(), digits.value());
                } else if (value instanceof String || value instanceof Boolean) {
                    facts.put(fact.getKey(), value);
                } else {
                    throw wrong(fact.getKey(), "a text, true, false or a number");
                }
            }
            return facts;
        }

        double[] values(String name) throws Fault {
            List<?> array = array(name);
            double[] values = new double[array.size()];
            for (int i = 0; i < values.length; i++) {
                if (array.get(i) instanceof Digits digits) {
                    values[i] = digits.value();
                } else if (array.get(i) == JsonTree.NULL) {
                    values[i] = Double.NaN;
                } else {
                    throw wrong(name, "an array of numbers and nulls");
                }
            }
            return values;
        }
    }
}

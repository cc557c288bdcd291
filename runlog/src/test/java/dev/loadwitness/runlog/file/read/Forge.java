// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.read;

import static java.nio.charset.StandardCharsets.ISO_8859_1;
import static java.nio.charset.StandardCharsets.UTF_8;

import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Part;
import dev.loadwitness.runlog.TornTail;
import dev.loadwitness.runlog.file.line.Chain;
import dev.loadwitness.runlog.file.line.Format;
import dev.loadwitness.runlog.file.line.RecordEncoder;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.Collections;
import java.util.HexFormat;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.Random;

/** Makes damaged logs. A log is a list of files, each a list of lines; most damage is done to the first file. */
public final class Forge {
    private Forge() {}

    /** What stands before the suffix, one text for each record; texts are bytes (ISO 8859-1) so that any byte can stand. */
    static List<String> contents(List<? extends LogRecord> records) {
        List<String> contents = new ArrayList<>();
        for (byte[] line : Example.lines(records)) {
            contents.add(new String(line, 0, line.length - Chain.SUFFIX_LENGTH - 1, ISO_8859_1));
        }
        return contents;
    }

    /** The log of these contents with a chain that fits throughout. */
    static byte[] chained(List<String> contents) {
        List<byte[]> lines = new ArrayList<>();
        byte[] hex = Chain.start();
        for (String content : contents) {
            lines.add(chainedLine(content, hex));
        }
        return Example.bytes(lines);
    }

    /** One line that follows from {@code hex}, which then holds its chain value. */
    public static byte[] chainedLine(String content, byte[] hex) {
        byte[] before = content.getBytes(ISO_8859_1);
        byte[] line = Arrays.copyOf(before, before.length + Chain.SUFFIX_LENGTH + 1);
        new Chain().next(hex.clone(), line, 0, before.length, hex);
        Chain.putSuffix(hex, line, before.length);
        return line;
    }

    static List<byte[]> with(List<byte[]> lines, int index, byte[] line) {
        List<byte[]> copy = new ArrayList<>(lines);
        copy.set(index, line);
        return copy;
    }

    static List<byte[]> inserted(List<byte[]> lines, int index, byte[] line) {
        List<byte[]> copy = new ArrayList<>(lines);
        copy.add(index, line);
        return copy;
    }

    static List<byte[]> without(List<byte[]> lines, int index) {
        List<byte[]> copy = new ArrayList<>(lines);
        copy.remove(index);
        return copy;
    }

    static byte[] replaced(byte[] line, String from, String to) {
        String text = new String(line, ISO_8859_1);
        if (!text.contains(from)) {
            throw new IllegalArgumentException("no " + from + " in " + text);
        }
        return text.replace(from, to).getBytes(ISO_8859_1);
    }

    static byte[] ascii(String text) {
        return text.getBytes(UTF_8);
    }

    /** Lines of the example up to its second boot record, then garbage, then a boot record that declares {@code torn}. */
    static byte[] resumed(String garbage, TornTail torn) {
        List<LogRecord> records = Example.records();
        List<byte[]> lines = Example.lines(records);
        int boot = 6;
        List<byte[]> out = new ArrayList<>(lines.subList(0, boot));
        out.add(ascii(garbage + "\n"));
        byte[] hex = new byte[Chain.HEX_LENGTH];
        byte[] before = lines.get(boot - 1);
        Chain.stated(before, before.length - 1, hex);
        List<LogRecord> rest = new ArrayList<>(records.subList(boot, records.size()));
        Boot plain = (Boot) rest.get(0);
        rest.set(
                0,
                new Boot(
                        plain.at(),
                        plain.utc(),
                        plain.bootId(),
                        plain.bootTimeSeconds(),
                        plain.utcTrusted(),
                        Optional.of(torn)));
        for (int i = 0; i < rest.size(); i++) {
            out.add(RecordEncoder.line(boot + i, RecordEncoder.body(rest.get(i)), new Chain(), hex));
        }
        return Example.bytes(out);
    }

    static TornTail torn(String garbage) {
        long offset = Example.bytes(Example.lines(Example.records()).subList(0, 6)).length;
        return new TornTail(
                offset,
                ascii(garbage).length,
                HexFormat.of().formatHex(Chain.sha256().digest(ascii(garbage))));
    }

    /** A log in two files: the first holds records that do not count behind {@code goodBytes}. */
    static List<byte[]> parted(Part part, int goodRecords) {
        List<LogRecord> records = Example.records();
        List<byte[]> lines = Example.lines(records);
        byte[] hex = new byte[Chain.HEX_LENGTH];
        byte[] good = lines.get(goodRecords - 1);
        Chain.stated(good, good.length - 1, hex);
        List<byte[]> second = new ArrayList<>();
        second.add(RecordEncoder.line(goodRecords, RecordEncoder.body(part), new Chain(), hex));
        for (int i = goodRecords; i < records.size(); i++) {
            second.add(RecordEncoder.line(i + 1, RecordEncoder.body(records.get(i)), new Chain(), hex));
        }
        byte[] first = Example.bytes(lines.subList(0, Math.min(lines.size(), goodRecords + 2)));
        return List.of(first, Example.bytes(second));
    }

    static Part part(int number, int goodRecords) {
        List<byte[]> lines = Example.lines(Example.records());
        byte[] hex = new byte[Chain.HEX_LENGTH];
        byte[] good = lines.get(goodRecords - 1);
        Chain.stated(good, good.length - 1, hex);
        return new Part(Example.RUN, number, Example.bytes(lines.subList(0, goodRecords)).length, Chain.text(hex));
    }

    /** Damaged logs, by name; each is the files of one log, empty where a file is missing. */
    static Map<String, List<byte[]>> damaged(long seed) {
        Map<String, List<byte[]>> logs = new LinkedHashMap<>();
        List<byte[]> lines = Example.lines(Example.records());
        byte[] whole = Example.bytes(lines);
        logs.put("whole", List.of(whole));
        logs.put("no-last-feed", List.of(Arrays.copyOf(whole, whole.length - 1)));
        for (int i = 0; i < lines.size(); i++) {
            logs.put("dropped-" + i, List.of(Example.bytes(without(lines, i))));
            logs.put("doubled-" + i, List.of(Example.bytes(inserted(lines, i, lines.get(i)))));
            logs.put("nul-line-" + i, List.of(Example.bytes(with(lines, i, new byte[lines.get(i).length]))));
            logs.put("bom-" + i, List.of(Example.bytes(with(lines, i, glued("\u00ef\u00bb\u00bf", lines.get(i))))));
            logs.put("crlf-" + i, List.of(Example.bytes(with(lines, i, replaced(lines.get(i), "\n", "\r\n")))));
            logs.put(
                    "split-" + i,
                    List.of(Example.bytes(with(lines, i, replaced(lines.get(i), "\"type\"", "\n\"type\"")))));
            logs.put(
                    "latin-1-" + i,
                    List.of(Example.bytes(with(lines, i, replaced(lines.get(i), "\"type\"", "\"ty\u00e9\"")))));
            logs.put("halved-" + i, List.of(Example.bytes(with(lines, i, glued(half(lines.get(i)), new byte[] {'\n'
            })))));
            for (int j = 0; j < lines.size(); j++) {
                List<byte[]> moved = new ArrayList<>(lines);
                moved.add(j, moved.remove(i));
                logs.put("moved-" + i + "-" + j, List.of(Example.bytes(moved)));
            }
        }
        rechained(logs);
        tails(logs);
        parts(logs);
        Random random = new Random(seed);
        for (int i = 0; i < 400; i++) {
            logs.put("random-" + seed + "-" + i, List.of(mangled(random, lines)));
        }
        return logs;
    }

    private static String half(byte[] line) {
        return new String(line, 0, line.length / 2, ISO_8859_1);
    }

    private static byte[] glued(String before, byte[] after) {
        byte[] head = before.getBytes(ISO_8859_1);
        byte[] both = Arrays.copyOf(head, head.length + after.length);
        System.arraycopy(after, 0, both, head.length, after.length);
        return both;
    }

    /** Lines that say something wrong with a chain that fits, as a faulty writer or a careful forger would. */
    private static void rechained(Map<String, List<byte[]>> logs) {
        List<String> contents = contents(Example.records());
        String[][] changes = {
            {"\"seg\":0", "\"seg\":0,\"seg\":0"},
            {"\"seg\":0", "\"seg\":1"},
            {"\"seg\":0", "\"seg\":0.0"},
            {"\"seg\":0", "\"seg\":-1"},
            {"\"seg\":0", "\"seg\":\"0\""},
            {"\"seg\":0", "\"seg\":null"},
            {"\"seg\":0", "\"seg\":4294967296"},
            {"\"seg\":0", "\"seg\": 0"},
            {"\"seg\":0", "\"sag\":0"},
            {"\"seg\":0", "\"seg\":00"},
            {"\"seg\":0", "\"seg\":0,\"\\u0073eg\":0"},
            {"\"t\":", "\"t\":99999999999999999999"},
            {"\"t\":", "\"t\":9"},
            {"\"t\":", "\"t\":-"},
            {"\"utc\":\"2026", "\"utc\":\"0000"},
            {"\"utc\":\"2026-11-25T", "\"utc\":\"2026-02-29T"},
            {"\"utc\":\"2026-11-25T", "\"utc\":\"2026-11-25 "},
            {".000Z", "Z"},
            {"61.5", "6e1"},
            {"61.5", "1e999"},
            {"61.5", "NaN"},
            {"61.5", "-0"},
            {"61.5", "true"},
            {"61.5", "0." + "0".repeat(50)},
            {"61.5", "1" + "0".repeat(30)},
            {"61.5", "1" + "0".repeat(5000)},
            {"61.5", "1" + "0".repeat(30) + ".0"},
            {"61.5", "01"},
            {"61.5", "1."},
            {"61.5", ".5"},
            {"61.5", "+1"},
            {"61.5", "9007199254740993"},
            {"61.5", "0.1234567890123456789"},
            {"61.5", "61.5,2"},
            {"[61.5", "[[61.5]"},
            {"null", "nul"},
            {"null", "[]"},
            {"\"v\":[", "\"v\":[[[["},
            {"\"v\":[61.5,null,1]", "\"v\":[]"},
            {"\"v\":[61.5,null,1]", "\"v\":[61.5 , null , 1 ]"},
            {"\"v\":[61.5,null,1]", "\"v\":" + "[".repeat(40) + "]".repeat(40)},
            {"\"v\":[61.5,null,1]", "\"x\":" + "[".repeat(31) + "]".repeat(31)},
            {"\"v\":[61.5,null,1]", "\"v\":[61.5,null,1],\"x\":" + "[".repeat(31) + "]".repeat(31)},
            {"\"v\":[61.5,null,1]", "\"v\":" + "[".repeat(100_000)},
            {"\"v\":[61.5,null,1]", "\"v\":[61.5,null,1],\"new\":{\"a\":[1,2,{\"b\":null}]}"},
            {"\"v\":[61.5,null,1]", "\"v\":[61.5,null,1],\"new\":1,\"must\":true"},
            {"\"v\":[61.5,null,1]", "\"v\":[61.5,null,1],\"must\":true"},
            {"\"v\":[61.5,null,1]", "\"v\":[61.5,null,1],\"must\":1"},
            {"\"v\":[61.5,null,1]", "\"v\":[61.5,null,1],\"new\":[1" + ",1".repeat(99_990) + "]"},
            {"\"v\":[61.5,null,1]", "\"v\":[61.5,null,1],\"new\":[1" + ",1".repeat(99_991) + "]"},
            {"\"v\":[61.5,null,1]", "\"v\":[61.5,null,1],\"new\":[1" + ",1".repeat(99_992) + "]"},
            {"\"v\":[61.5,null,1]", "\"v\":[61.5,null,1],\"new\":[1" + ",1".repeat(99_993) + "]"},
            {"\"v\":[61.5,null,1]", "\"v\":[61.5,null,1],\"new\":\"" + ",1".repeat(100_100) + "\""},
            {"\"type\":\"sample\"", "\"type\":\"Sample\""},
            {"\"v\":[61.5,null,1]", "\"v\":[61.5,null,1],\"new\":\"\\ud800 \\n \u00c3\u00a9\""},
            {"\"v\":[61.5,null,1]", "\"v\":[61.5,null,1],\"new\":\"\t\""},
            {"\"v\":[61.5,null,1]", "\"v\":[61.5,null,1],\"new\":\"\\x\""},
            {"\"v\":[61.5,null,1]", "\"v\":[61.5,null,1],\"new\":\"\u00c0\u0080\""},
            {"\"v\":[61.5,null,1]", "\"v\":[61.5,null,1],\"new\":\"\u00ed\u00a0\u0080\""},
            {"\"v\":[61.5,null,1]", "\"v\":[61.5,null,1],\"new\":\"\0\""},
            {"\"v\":[61.5,null,1]", "\"v\":[61.5,null,1],\"new\":{\"a\":1,\"a\":2}"},
            {"\"v\":[61.5,null,1]", "\"v\":[61.5,null,1],\"n\":4"},
            {"\"v\":[61.5,null,1]", "\"v\":[61.5,null,1],\"chain\":\"x\""},
            {"\"v\":[61.5,null,1]", "\"v\":[61.5,null,1],"},
            {"\"type\":\"sample\"", "\"type\":\"sample-2\""},
            {"\"type\":\"sample\"", "\"type\":\"sample-2\",\"must\":true"},
            {"\"type\":\"sample\"", "\"type\":7"},
            {"\"type\":\"sample\"", "\"typ\":\"sample\""},
            {"\"type\":\"sample\"", "\"must\":false,\"type\":\"sample\""},
            {"\"type\":\"event\"", "\"type\":\"event\",\"must\":true"},
            {"\"type\":\"event\"", "\"type\":\"header\""},
            {"\"type\":\"close\"", "\"type\":\"end\""},
            {"\"kind\":\"stage-begin\"", "\"kind\":\"unheard-of\""},
            {"\"caught\":true", "\"caught\":null"},
            {"\"caught\":true", "\"caught\":{}"},
            {"\"role\":\"cpu\"", "\"role\":\"tpu\""},
            {"\"cause\":\"heat\"", "\"cause\":\"mood\""},
            {"\"throttled\":87", "\"melted\":87"},
            {"\"throttled\":87", "\"throttled\":\"87\""},
            {"\"id\":\"cpu.throttle.2\"", "\"id\":\"cpu.throttle.1\""},
            {"\"id\":\"cpu.throttle.2\"", "\"id\":\"CPU\""},
            {"\"samples\":3", "\"samples\":-3"},
            {"\"bootTimeSeconds\":12.25", "\"bootTimeSeconds\":null"},
            {"\"bootId\":\"boot-1\",", ""},
            {"\"simulated\":true", "\"simulated\":1"},
            {"\"withheld\":[\"host\"]", "\"withheld\":[1]"},
            {"\"undurableSeconds\":0.25", "\"undurableSeconds\":-1"},
            {"loadwitness-run/1.0", "loadwitness-run/1.7"},
            {"loadwitness-run/1.0", "loadwitness-run/2.0"},
            {"loadwitness-run/1.0", "loadwitness-run/0.9"},
            {"loadwitness-run/1.0", "another/1.0"},
            {"{\"n\":5,", "{\"n\":50,"},
            {"{\"n\":5,", "{\"n\":3,"},
            {"{\"n\":5,", "{\"n\":-5,"},
            {"{\"n\":5,", "{\"n\":5.0,"},
            {"{\"n\":5,", "{\"n\":9007199254740991,"},
            {"{\"n\":5,", "{\"n\":9007199254740992,"},
            {"{\"n\":5,", "{\"n\":9223372036854775808,"},
            {"{\"n\":5,", "{\"n\":05,"},
            {"{\"n\":5,", " {\"n\":5,"},
            {"{\"n\":5,", "[{\"n\":5,"},
            {"{\"n\":5,", "\"n\":5,"},
            {"{\"n\":5,", "{"},
            {"{\"n\":5,", ""},
        };
        for (String[] change : changes) {
            boolean once = false;
            for (int i = 0; i < contents.size(); i++) {
                if (contents.get(i).contains(change[0])) {
                    List<String> copy = new ArrayList<>(contents);
                    copy.set(i, contents.get(i).replace(change[0], change[1]));
                    String to = change[1].length() > 40 ? change[1].substring(0, 40) + "…" : change[1];
                    logs.put("line " + i + ": " + change[0] + " -> " + to + " #" + logs.size(), List.of(chained(copy)));
                    once = true;
                }
            }
            if (!once) {
                throw new IllegalArgumentException("the example does not hold " + change[0]);
            }
        }
        for (int length : new int[] {Format.MAX_LINE - 300, Format.MAX_LINE - 100, 2 * Format.MAX_LINE}) {
            List<String> copy = new ArrayList<>(contents);
            copy.set(4, contents.get(4) + ",\"x\":\"" + "y".repeat(length) + "\"");
            logs.put("long-" + length, List.of(chained(copy)));
            copy.set(4, "z".repeat(length + 400));
            List<byte[]> lines = Example.lines(Example.records());
            logs.put(
                    "long-garbage-" + length,
                    List.of(Example.bytes(inserted(lines, 4, ascii("z".repeat(length + 400) + "\n")))));
            logs.put(
                    "long-tail-" + length,
                    List.of(Example.bytes(inserted(lines.subList(0, 6), 6, new byte[length + 400]))));
        }
        for (int length : new int[] {Format.MAX_LINE * 2, Format.MAX_HEADER}) {
            List<String> copy = new ArrayList<>(contents);
            copy.set(0, contents.get(0) + ",\"x\":\"" + "y".repeat(length) + "\"");
            logs.put("long-header-" + length, List.of(chained(copy)));
        }
        List<byte[]> lines = Example.lines(Example.records());
        logs.put("1000 empty lines", List.of(Example.bytes(inserted(lines, 6, ascii("\n".repeat(1000))))));
        logs.put("1001 empty lines", List.of(Example.bytes(inserted(lines, 6, ascii("\n".repeat(1001))))));
        logs.put(
                "1001 empty lines at the end",
                List.of(Example.bytes(inserted(lines.subList(0, 8), 8, ascii("\n".repeat(1001))))));
    }

    private static void tails(Map<String, List<byte[]>> logs) {
        List<byte[]> lines = Example.lines(Example.records());
        for (String garbage : new String[] {
            "{\"n\":6,\"ty",
            "\0\0\0\0",
            "",
            "half\nand half",
            "half\n",
            "\n\n",
            "\0\n{\"n\":7,",
            "\u00e9\ufffd",
            "x".repeat(2 * Format.MAX_LINE),
            "x\n" + "y".repeat(2 * Format.MAX_LINE) + "\nz"
        }) {
            String name = "torn "
                    + garbage.substring(0, Math.min(12, garbage.length())).replaceAll("[^a-z]", "_") + garbage.length();
            TornTail torn = torn(garbage);
            logs.put(name + " declared", List.of(resumed(garbage, torn)));
            logs.put(
                    name + " declared elsewhere",
                    List.of(resumed(garbage, new TornTail(torn.offset() + 1, torn.length(), torn.sha256()))));
            logs.put(
                    name + " declared shorter",
                    List.of(resumed(
                            garbage,
                            new TornTail(
                                    torn.offset(), torn.length() - 1 < 0 ? 5 : torn.length() - 1, torn.sha256()))));
            logs.put(
                    name + " declared with another digest",
                    List.of(resumed(garbage, new TornTail(torn.offset(), torn.length(), "0".repeat(64)))));
            logs.put(name + " at the end", List.of(Example.bytes(inserted(lines.subList(0, 6), 6, ascii(garbage)))));
            logs.put(name + " after the close", List.of(Example.bytes(inserted(lines, lines.size(), ascii(garbage)))));
            logs.put(name + " undeclared", List.of(Example.bytes(inserted(lines, 6, ascii(garbage + "\n")))));
        }
    }

    private static void parts(Map<String, List<byte[]>> logs) {
        Part good = part(2, 5);
        logs.put("parted", parted(good, 5));
        logs.put("parted, other run", parted(new Part("other", 2, good.goodBytes(), good.goodChain()), 5));
        logs.put("parted, other number", parted(new Part(Example.RUN, 3, good.goodBytes(), good.goodChain()), 5));
        logs.put("parted, fewer bytes", parted(new Part(Example.RUN, 2, good.goodBytes() - 7, good.goodChain()), 5));
        logs.put("parted, no bytes", parted(new Part(Example.RUN, 2, 0, good.goodChain()), 5));
        logs.put("parted, more bytes", parted(new Part(Example.RUN, 2, good.goodBytes() + 7, good.goodChain()), 5));
        logs.put("parted, beyond the end", parted(new Part(Example.RUN, 2, 1L << 40, good.goodChain()), 5));
        logs.put("parted, other chain", parted(new Part(Example.RUN, 2, good.goodBytes(), "0".repeat(64)), 5));
        List<byte[]> files = parted(good, 5);
        byte[] second = files.get(1);
        for (int cut = 0; cut < second.length; cut += 37) {
            logs.put("parted, second file cut at " + cut, List.of(files.get(0), Arrays.copyOf(second, cut)));
        }
        logs.put("parted, first file cut", List.of(Arrays.copyOf(files.get(0), (int) good.goodBytes() - 30), second));
        List<byte[]> third = parted(part(3, 5), 5);
        logs.put("second file missing", List.of(third.get(0), new byte[0], third.get(1)));
        List<byte[]> torn = parted(new Part(Example.RUN, 3, 0, good.goodChain()), 5);
        byte[] until = Arrays.copyOf(files.get(0), (int) good.goodBytes());
        logs.put("second file torn in its first line", List.of(until, Arrays.copyOf(second, 40), torn.get(1)));
        logs.put("second file torn and gone", List.of(until, new byte[0], torn.get(1)));
        logs.put(
                "second file is another run's",
                List.of(
                        until,
                        parted(new Part("other", 2, 0, good.goodChain()), 5).get(1),
                        torn.get(1)));
        logs.put("second file is no part", List.of(files.get(0), files.get(0)));
        logs.put("second file is garbage", List.of(files.get(0), ascii("garbage")));
        logs.put(
                "first file torn, second garbage",
                List.of(Arrays.copyOf(files.get(0), (int) good.goodBytes() - 30), ascii("garbage")));
    }

    private static byte[] mangled(Random random, List<byte[]> original) {
        List<byte[]> lines = new ArrayList<>(original);
        for (int steps = 1 + random.nextInt(3); steps > 0; steps--) {
            int i = 1 + random.nextInt(lines.size() - 1);
            byte[] line = lines.get(i).clone();
            switch (random.nextInt(7)) {
                case 0 -> lines.remove(i);
                case 1 -> lines.add(random.nextInt(lines.size()), line);
                case 2 -> Collections.swap(lines, i, 1 + random.nextInt(lines.size() - 1));
                case 3 -> {
                    line[random.nextInt(line.length)] ^= (byte) (1 << random.nextInt(8));
                    lines.set(i, line);
                }
                case 4 -> {
                    line[random.nextInt(line.length)] = (byte) ('0' + random.nextInt(10));
                    lines.set(i, line);
                }
                case 5 -> lines.set(i, Arrays.copyOf(line, random.nextInt(line.length)));
                default -> {
                    byte[] noise = new byte[random.nextInt(200)];
                    random.nextBytes(noise);
                    lines.add(i, noise);
                }
            }
        }
        return Example.bytes(lines);
    }

    /** Writes the files of a log into a folder of its own and returns the first. */
    static Path write(Path folder, List<byte[]> files) throws IOException {
        Files.createDirectories(folder);
        for (int part = 1; part <= files.size(); part++) {
            if (part == 1 || files.get(part - 1).length > 0 || part == files.size()) {
                Files.write(folder.resolve(Format.fileName("run", part)), files.get(part - 1));
            }
        }
        return folder.resolve("run.jsonl");
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.read;

import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.BootEvidence;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.EarlierAttempt;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.RunTime;
import dev.loadwitness.runlog.Sample;
import dev.loadwitness.runlog.file.line.Chain;
import dev.loadwitness.runlog.file.line.RecordEncoder;
import java.io.ByteArrayOutputStream;
import java.time.Duration;
import java.time.Instant;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.Random;

/** Records of the invented shop, and logs made of them as bytes. */
public final class Example {
    public static final String RUN = "0123456789abcdef0123456789abcdef";
    public static final Instant BEGIN = Instant.parse("2026-11-25T14:00:00.000Z");

    private Example() {}

    public static RunTime at(int segment, double seconds) {
        return new RunTime(segment, Math.round(seconds * 1e9));
    }

    public static Instant utc(double seconds) {
        return BEGIN.plusMillis(Math.round(seconds * 1000));
    }

    public static Header header() {
        Map<String, Map<String, String>> facts = new LinkedHashMap<>();
        facts.put("machine", Map.of("make", "Alder Works"));
        facts.put("gpu", Map.of("name", "Corvid G7 150W"));
        return new Header(
                RUN,
                BEGIN,
                "FBR-2026-0142",
                "tern",
                List.of(new EarlierAttempt("f".repeat(32), "a".repeat(64), "open")),
                true,
                facts,
                List.of("host"),
                "0.1.0",
                new Attachment("quick-check.yaml", "name: quick-check\n# 60 °C \"warm\"\n", "b".repeat(64)),
                Optional.of(new Attachment("job.yaml", "ticket: FBR-2026-0142\n", "c".repeat(64))),
                OptionalDouble.of(22.5),
                "thermometer 30 cm from the intake",
                Duration.ofMillis(250));
    }

    public static Boot boot(int segment) {
        return new Boot(at(segment, 0), utc(100 * segment), "boot-" + segment, 12.25, true, Optional.empty());
    }

    public static ChannelTable channels(int segment, int count) {
        List<Channel> channels = new ArrayList<>();
        channels.add(Channel.of("gpu.temperature", Metric.TEMPERATURE, Role.GPU_DISCRETE, "gpu")
                .withComponent("0000:01:00.0", "GPU Ω")
                .withQuality(1, 0.5)
                .withLimits(Map.of(LimitType.THROTTLED, 87.0, LimitType.HIGH_CRITICAL, 95.0)));
        for (int i = 1; i < count; i++) {
            channels.add(Channel.of("cpu.throttle." + i, Metric.THROTTLE_COUNT, Role.CPU, "kernel")
                    .withCause(Cause.HEAT));
        }
        return new ChannelTable(at(segment, 0.001), channels);
    }

    public static Sample sample(int segment, double seconds, double... values) {
        return new Sample(at(segment, seconds), utc(100 * segment + seconds), values);
    }

    public static Event event(int segment, double seconds) {
        Map<String, Object> facts = new LinkedHashMap<>();
        facts.put("stage", "discrete soak");
        facts.put("seconds", 3600.0);
        facts.put("caught", true);
        return Event.of(at(segment, seconds), utc(100 * segment + seconds), EventKind.STAGE_BEGIN, facts);
    }

    public static Close close(int segment, double seconds, long samples) {
        return new Close(
                at(segment, seconds),
                utc(100 * segment + seconds),
                CloseReason.COMPLETED.word(),
                "every stage ran to its end",
                samples,
                2);
    }

    /** A small run: two segments, every type of record but {@code part}. */
    public static List<LogRecord> records() {
        List<LogRecord> records = new ArrayList<>();
        records.add(header());
        records.add(boot(0));
        records.add(channels(0, 3));
        records.add(event(0, 0.5));
        records.add(sample(0, 1, 61.5, Double.NaN, 1));
        records.add(sample(0, 2, 61.625, 0, 1));
        records.add(boot(1));
        records.add(channels(1, 2));
        records.add(new BootEvidence(at(1, 0.5), Map.of("pstore", "empty")));
        records.add(sample(1, 1, -0.25, 12345678901.0));
        records.add(event(1, 2));
        records.add(close(1, 3, 3));
        return records;
    }

    /** A longer one with values of every size. */
    public static List<LogRecord> records(long seed, int samples, int columns) {
        Random random = new Random(seed);
        List<LogRecord> records = new ArrayList<>(List.of(header(), boot(0), channels(0, columns)));
        for (int i = 0; i < samples; i++) {
            double[] values = new double[columns];
            for (int c = 0; c < columns; c++) {
                values[c] = value(random);
            }
            records.add(sample(0, 1 + i * 0.1, values));
        }
        records.add(close(0, 2 + samples * 0.1, samples));
        return records;
    }

    public static double value(Random random) {
        return switch (random.nextInt(8)) {
            case 0 -> Double.NaN;
            case 1 -> random.nextInt(100);
            case 2 -> random.nextInt(100_000) / 1000.0;
            case 3 -> -random.nextInt(1000) / 10.0;
            case 4 -> random.nextLong() >>> 12;
            case 5 -> random.nextDouble();
            case 6 -> random.nextGaussian() * 1e-9;
            default -> Math.rint(random.nextDouble() * 1e6) * 1e3;
        };
    }

    /** The lines of a log, each with its line feed. */
    public static List<byte[]> lines(List<? extends LogRecord> records) {
        Chain chain = new Chain();
        byte[] chainHex = Chain.start();
        List<byte[]> lines = new ArrayList<>();
        for (LogRecord record : records) {
            lines.add(RecordEncoder.line(lines.size(), RecordEncoder.body(record), chain, chainHex));
        }
        return lines;
    }

    public static byte[] bytes(List<byte[]> lines) {
        ByteArrayOutputStream out = new ByteArrayOutputStream();
        lines.forEach(out::writeBytes);
        return out.toByteArray();
    }
}

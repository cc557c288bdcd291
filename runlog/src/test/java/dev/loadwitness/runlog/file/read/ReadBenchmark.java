// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.read;

import com.fasterxml.jackson.core.JsonFactory;
import com.fasterxml.jackson.core.JsonParser;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.file.line.Chain;
import dev.loadwitness.runlog.file.line.Damage;
import dev.loadwitness.runlog.file.line.Place;
import dev.loadwitness.runlog.file.line.RecordEncoder;
import java.io.BufferedOutputStream;
import java.io.IOException;
import java.io.InputStream;
import java.io.OutputStream;
import java.nio.file.Files;
import java.nio.file.Path;
import java.security.DigestInputStream;
import java.util.Arrays;
import java.util.List;
import java.util.Locale;
import java.util.Random;

/**
 * How fast a whole read is (lines, numbers, chain, order, SHA-256 of the file) beside a bare token scan plus SHA-256 of
 * the same file, interleaved in one run. Give the number of samples; 200,000 if none is given.
 */
final class ReadBenchmark {
    private static final int COLUMNS = 24;
    private static final int ROUNDS = 7;

    private ReadBenchmark() {}

    /** Megabytes a second of the two, and the median of the ratios of neighbouring rounds. */
    record Rates(double read, double baseline, double ratio) {}

    @SuppressWarnings("SystemOut") // a program for the terminal
    public static void main(String[] args) throws IOException {
        int samples = args.length > 0 ? Integer.parseInt(args[0]) : 200_000;
        Rates rates = measure(samples, ROUNDS);
        System.out.printf(
                Locale.ROOT,
                "whole read %.0f MB/s, token scan + SHA-256 %.0f MB/s, ratio %.2f (median of %d interleaved rounds)%n",
                rates.read(),
                rates.baseline(),
                rates.ratio(),
                ROUNDS);
    }

    static Rates measure(int samples, int rounds) throws IOException {
        Path file = Files.createTempFile("read-benchmark", ".jsonl");
        try {
            write(file, samples);
            double[] ratios = new double[rounds];
            double[] read = new double[rounds];
            double[] baseline = new double[rounds];
            double megabytes = Files.size(file) / 1e6;
            for (int i = -2; i < rounds; i++) {
                double base = megabytes / baselineSeconds(file);
                double ours = megabytes / readSeconds(file, samples);
                if (i >= 0) {
                    ratios[i] = ours / base;
                    read[i] = ours;
                    baseline[i] = base;
                }
            }
            return new Rates(median(read), median(baseline), median(ratios));
        } finally {
            Files.delete(file);
        }
    }

    private static double median(double[] values) {
        double[] sorted = values.clone();
        Arrays.sort(sorted);
        return sorted[sorted.length / 2];
    }

    private static double readSeconds(Path file, int samples) throws IOException {
        long begin = System.nanoTime();
        ReadSummary summary = RunLogReader.read(file, new LogVisitor() {
            @Override
            public void record(LogRecord record, Place place) {}

            @Override
            public void damage(Damage damage) {
                throw new IllegalStateException(damage.toString());
            }
        });
        if (summary.records().get("sample") != samples) {
            throw new IllegalStateException("read " + summary.records());
        }
        return (System.nanoTime() - begin) / 1e9;
    }

    private static double baselineSeconds(Path file) throws IOException {
        long begin = System.nanoTime();
        long tokens = 0;
        try (InputStream in = new DigestInputStream(Files.newInputStream(file), Chain.sha256());
                JsonParser parser = new JsonFactory().createParser(in)) {
            while (parser.nextToken() != null) {
                tokens++;
            }
        }
        if (tokens == 0) {
            throw new IllegalStateException("no tokens");
        }
        return (System.nanoTime() - begin) / 1e9;
    }

    /** Quantised as sensors are: whole clocks, eighths of degrees, counters, milliwatts. */
    private static void write(Path file, int samples) throws IOException {
        Random random = new Random(7);
        Chain chain = new Chain();
        byte[] chainHex = Chain.start();
        long n = 0;
        try (OutputStream out = new BufferedOutputStream(Files.newOutputStream(file), 1 << 20)) {
            for (LogRecord head : List.of(Example.header(), Example.boot(0), Example.channels(0, COLUMNS))) {
                out.write(RecordEncoder.line(n++, RecordEncoder.body(head), chain, chainHex));
            }
            for (int i = 0; i < samples; i++) {
                double[] v = new double[COLUMNS];
                for (int c = 0; c < COLUMNS; c++) {
                    v[c] = switch (c % 6) {
                        case 0 -> 40 + random.nextInt(400) / 8.0;
                        case 1 -> 1_000_000_000L + random.nextInt(1000) * 1_000_000L;
                        case 2 -> random.nextInt(150_000) / 1000.0;
                        case 3 -> i * 37L + c;
                        case 4 -> random.nextInt(2);
                        default -> random.nextInt(100) / 100.0;
                    };
                }
                out.write(RecordEncoder.line(
                        n++, RecordEncoder.body(Example.sample(0, 1 + i * 0.1, v)), chain, chainHex));
            }
            out.write(RecordEncoder.line(
                    n, RecordEncoder.body(Example.close(0, 2 + samples * 0.1, samples)), chain, chainHex));
        }
    }
}

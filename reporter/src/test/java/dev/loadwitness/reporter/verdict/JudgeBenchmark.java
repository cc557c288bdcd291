// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.verdict;

import com.fasterxml.jackson.core.JsonFactory;
import com.fasterxml.jackson.core.JsonParser;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.simulation.LongRun;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.file.line.Damage;
import dev.loadwitness.runlog.file.line.Place;
import dev.loadwitness.runlog.file.read.LogVisitor;
import dev.loadwitness.runlog.file.read.RunLogReader;
import java.io.IOException;
import java.io.InputStream;
import java.lang.management.ManagementFactory;
import java.lang.management.ThreadMXBean;
import java.nio.file.Files;
import java.nio.file.Path;
import java.security.DigestInputStream;
import java.security.MessageDigest;
import java.security.NoSuchAlgorithmException;
import java.time.Duration;
import java.util.Arrays;
import java.util.Locale;

/**
 * How fast a log is judged by every criterion, beside reading it and beside a bare token scan plus SHA-256 of the same file,
 * interleaved in one run. Give the number of samples; 300,000 of 24 channels at 10 Hz if none is given. Works with {@code -Xmx128m}.
 */
final class JudgeBenchmark {
    private static final int ROUNDS = 3;

    /** Processor time of this thread: what others run on the machine meanwhile does not count. */
    private static final ThreadMXBean CLOCK = ManagementFactory.getThreadMXBean();

    private JudgeBenchmark() {}

    private interface Task {
        void run() throws IOException;
    }

    @SuppressWarnings("SystemOut") // a program for the terminal
    public static void main(String[] args) throws IOException {
        int samples = args.length > 0 ? Integer.parseInt(args[0]) : 300_000;
        Path folder = Files.createTempDirectory("judge-benchmark");
        Path log = folder.resolve("run.jsonl");
        try {
            Duration period = Duration.ofMillis(100);
            new LongRun(period.multipliedBy(samples), period).write(folder, "run");
            double megabytes = Files.size(log) / 1e6;
            double[] judge = new double[ROUNDS];
            double[] read = new double[ROUNDS];
            double[] scan = new double[ROUNDS];
            for (int i = -1; i < ROUNDS; i++) {
                double s = megabytes / seconds(() -> tokens(log));
                double r = megabytes / seconds(() -> read(log));
                double j = megabytes / seconds(() -> judge(log));
                if (i >= 0) {
                    scan[i] = s;
                    read[i] = r;
                    judge[i] = j;
                }
            }
            System.out.printf(
                    Locale.ROOT,
                    "%d samples, %.0f MB, heap of at most %d MB; medians of %d interleaved rounds%n"
                            + "of processor time: judge %.0f MB/s, read %.0f MB/s, token scan + SHA-256 %.0f MB/s%n"
                            + "judge/scan %.2f, read/scan %.2f, judge/read %.2f%n",
                    samples,
                    megabytes,
                    Runtime.getRuntime().maxMemory() >> 20,
                    ROUNDS,
                    median(judge),
                    median(read),
                    median(scan),
                    median(ratios(judge, scan)),
                    median(ratios(read, scan)),
                    median(ratios(judge, read)));
        } finally {
            try (var rest = Files.list(folder)) {
                for (Path p : rest.toList()) {
                    Files.delete(p);
                }
            }
            Files.delete(folder);
        }
    }

    private static double[] ratios(double[] a, double[] b) {
        double[] ratios = new double[a.length];
        Arrays.setAll(ratios, i -> a[i] / b[i]);
        return ratios;
    }

    private static double median(double[] values) {
        double[] sorted = values.clone();
        Arrays.sort(sorted);
        return sorted[sorted.length / 2];
    }

    private static double seconds(Task task) throws IOException {
        long begin = CLOCK.getCurrentThreadCpuTime();
        task.run();
        return (CLOCK.getCurrentThreadCpuTime() - begin) / 1e9;
    }

    private static void judge(Path log) throws IOException {
        Verdict verdict = Judge.judge(Judge.Request.of(log)).verdict();
        if (verdict.outcome() != Outcome.PASS) {
            throw new IllegalStateException(verdict.sentence());
        }
    }

    private static void read(Path log) throws IOException {
        RunLogReader.read(log, new LogVisitor() {
            @Override
            public void record(LogRecord record, Place place) {}

            @Override
            public void damage(Damage damage) {
                throw new IllegalStateException(damage.toString());
            }
        });
    }

    private static void tokens(Path log) throws IOException {
        long tokens = 0;
        try (InputStream in = new DigestInputStream(Files.newInputStream(log), sha256());
                JsonParser parser = new JsonFactory().createParser(in)) {
            while (parser.nextToken() != null) {
                tokens++;
            }
        }
        if (tokens == 0) {
            throw new IllegalStateException("no tokens");
        }
    }

    private static MessageDigest sha256() {
        try {
            return MessageDigest.getInstance("SHA-256");
        } catch (NoSuchAlgorithmException e) {
            throw new IllegalStateException("every Java has SHA-256", e);
        }
    }
}

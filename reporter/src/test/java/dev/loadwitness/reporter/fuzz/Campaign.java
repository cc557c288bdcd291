// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.fuzz;

import java.io.IOException;
import java.lang.management.ManagementFactory;
import java.lang.management.MemoryPoolMXBean;
import java.lang.management.MemoryType;
import java.lang.management.ThreadMXBean;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.HashSet;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Set;
import java.util.SplittableRandom;

/**
 * A seeded campaign against one target in this process: {@code Campaign TARGET INPUTS SEED FOLDER [--first]}. Half of the inputs are new, half
 * are changed further from one that made the program say something new. Distinct findings go into the folder, each with the
 * input that showed it first. checks/fuzz.py starts it, with JaCoCo's agent to tell what was reached.
 */
public final class Campaign {
    static final Map<String, Target> TARGETS =
            Map.of("log", new LogTarget(), "yaml", new YamlTarget(), "pdf", new PdfTarget());
    private static final Duration HANG = Duration.ofSeconds(10);
    /** A thread that waits uses no processor time: this much longer on the wall is a hang too, busy as the machine may be. */
    private static final Duration STUCK = Duration.ofMinutes(3);

    private static final int MOST_DECISIONS = 60;
    private static final int MOST_KEPT = 4000;
    private static final ThreadMXBean THREADS = ManagementFactory.getThreadMXBean();

    private final Target target;
    private final SplittableRandom random;
    private final Path folder;
    private final int mostFindings;
    private long number;
    private final List<byte[]> kept = new ArrayList<>();
    private final Set<String> said = new HashSet<>();
    private final Map<String, Integer> findings = new LinkedHashMap<>();
    private double slowestSeconds;
    private volatile long begunNanos;
    private volatile byte[] running = new byte[0];

    private Campaign(Target target, long seed, Path folder, int mostFindings) {
        this.target = target;
        this.mostFindings = mostFindings;
        this.random = new SplittableRandom(seed);
        this.folder = folder;
    }

    public static void main(String[] arguments) throws IOException {
        Locale.setDefault(Locale.ROOT);
        Target target = TARGETS.get(arguments[0]);
        long inputs = Long.parseLong(arguments[1]);
        long seed = Long.parseLong(arguments[2]);
        Campaign campaign = new Campaign(
                target, seed, Files.createDirectories(Path.of(arguments[3])), arguments.length > 4 ? 1 : 100);
        target.warmUp();
        campaign.watch();
        long begin = THREADS.getCurrentThreadCpuTime();
        campaign.run(inputs);
        campaign.report(arguments[0], inputs, seed, (THREADS.getCurrentThreadCpuTime() - begin) / 1e9);
        Coverage.print(target.packages());
        System.out.flush();
        // Not exit(): nothing of what was tested may decide the status.
        Scratch.delete(Scratch.FOLDER);
        Runtime.getRuntime().halt(campaign.findings.isEmpty() ? 0 : 1);
    }

    private void run(long inputs) throws IOException {
        for (number = 1; number <= inputs && findings.size() < mostFindings; number++) {
            byte[] decisions = decisions();
            byte[] input = target.input(new Choices(decisions));
            running = input;
            begunNanos = System.nanoTime();
            long begin = THREADS.getCurrentThreadCpuTime();
            try {
                String words = target.check(input, random.nextInt(target.eachCommand()) == 0);
                if (kept.size() < MOST_KEPT && said.add(words)) {
                    kept.add(decisions);
                }
            } catch (Throwable e) { // whatever it is, errors of the machine among them
                found(e, input);
            }
            double seconds = (THREADS.getCurrentThreadCpuTime() - begin) / 1e9;
            begunNanos = 0;
            slowestSeconds = Math.max(slowestSeconds, seconds);
            if (seconds > HANG.toSeconds()) {
                found(new Oracle.Finding("took more than 10 s of processor time"), input);
            }
        }
    }

    private byte[] decisions() {
        if (kept.isEmpty() || random.nextBoolean()) {
            byte[] decisions = new byte[1 + random.nextInt(MOST_DECISIONS)];
            random.nextBytes(decisions);
            return decisions;
        }
        byte[] before = kept.get(random.nextInt(kept.size()));
        byte[] decisions = Arrays.copyOf(before, before.length + random.nextInt(8));
        for (int i = before.length; i < decisions.length; i++) {
            decisions[i] = (byte) random.nextInt();
        }
        for (int i = random.nextInt(3); i > 0; i--) {
            decisions[random.nextInt(decisions.length)] = (byte) random.nextInt();
        }
        return decisions;
    }

    private void found(Throwable e, byte[] input) throws IOException {
        String what = name(e);
        boolean ending = !Files.exists(Scratch.FOLDER);
        if (ending || findings.merge(what, 1, Integer::sum) > 1) {
            return;
        }
        Path file = folder.resolve(String.format("finding-%02d.%s", findings.size(), target.extension()));
        Files.write(file, input);
        System.out.println("FOUND " + what + " (" + file + ", input " + number + ")");
        e.printStackTrace(System.out);
    }

    /** The same for what is the same fault: sort, words without numbers, and where in our code it broke. */
    private static String name(Throwable e) {
        String words =
                String.valueOf(e.getMessage()).lines().findFirst().orElse("").replaceAll("[-+0-9.][0-9.Ee+-]*", "#");
        String place = Arrays.stream(e.getStackTrace())
                .filter(frame -> frame.getClassName().startsWith("dev.loadwitness.")
                        && !frame.getClassName().startsWith("dev.loadwitness.reporter.fuzz."))
                .findFirst()
                .map(frame -> " in " + frame.getFileName() + ":" + frame.getLineNumber())
                .orElse("");
        return e.getClass().getSimpleName() + " '" + words.substring(0, Math.min(words.length(), 120)) + "'" + place;
    }

    /** Ends the whole process if one input never ends. */
    private void watch() {
        Thread watch = new Thread(() -> {
            while (true) {
                try {
                    Thread.sleep(1000);
                } catch (InterruptedException e) {
                    return;
                }
                long begun = begunNanos;
                if (begun != 0 && System.nanoTime() - begun > STUCK.toNanos()) {
                    try {
                        Files.write(folder.resolve("hang." + target.extension()), running);
                    } catch (IOException e) {
                        System.out.println(e);
                    }
                    System.out.println("FOUND one input that never ends (hang." + target.extension() + ")");
                    System.out.flush();
                    Runtime.getRuntime().halt(1);
                }
            }
        });
        watch.setDaemon(true);
        watch.start();
    }

    private void report(String name, long inputs, long seed, double seconds) {
        double heap = ManagementFactory.getMemoryPoolMXBeans().stream()
                        .filter(pool -> pool.getType() == MemoryType.HEAP)
                        .map(MemoryPoolMXBean::getPeakUsage)
                        .mapToLong(usage -> usage.getUsed())
                        .sum()
                / 1e6;
        findings.forEach((what, count) -> System.out.println("FINDING " + count + " times: " + what));
        System.out.printf(
                "RESULT target=%s seed=%d inputs=%d seconds=%.1f rate=%.0f different=%d slowest=%.2f heap=%.0f findings=%d%n",
                name, seed, inputs, seconds, inputs / seconds, said.size(), slowestSeconds, heap, findings.size());
    }
}

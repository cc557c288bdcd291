// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.reporter.verdict.Verdict;
import java.io.IOException;
import java.lang.management.ManagementFactory;
import java.nio.file.Path;
import java.util.Arrays;
import java.util.Locale;

/**
 * Judges one log again and again in one Java machine, for {@code benchmarks/judge_hour.py}: {@code LOG}. Processor time of the
 * whole process (compilers and collector with it) and of the judging thread alone.
 */
public final class JudgeHour {
    private static final int WARMING = 20;
    private static final int ROUNDS = 11;

    private JudgeHour() {}

    /** Processor seconds of the process and of this thread, until now or between two moments. */
    private record Spent(double process, double thread) {
        static Spent now() {
            return new Spent(
                    ProcessHandle.current()
                                    .info()
                                    .totalCpuDuration()
                                    .orElseThrow()
                                    .toNanos()
                            / 1e9,
                    ManagementFactory.getThreadMXBean().getCurrentThreadCpuTime() / 1e9);
        }

        Spent since(Spent begin) {
            return new Spent(process - begin.process, thread - begin.thread);
        }
    }

    private static Verdict judge(Path log) throws IOException {
        return Judge.judge(Judge.Request.of(log)).verdict();
    }

    @SuppressWarnings("SystemOut") // a program for the terminal
    public static void main(String[] args) throws IOException {
        Path log = Path.of(args[0]);
        Spent started = Spent.now();
        Verdict verdict = judge(log);
        Spent first = Spent.now().since(started);
        for (int i = 0; i < WARMING; i++) {
            judge(log);
        }
        double[] process = new double[ROUNDS];
        double[] thread = new double[ROUNDS];
        for (int i = 0; i < ROUNDS; i++) {
            Spent begin = Spent.now();
            judge(log);
            Spent spent = Spent.now().since(begin);
            process[i] = spent.process;
            thread[i] = spent.thread;
        }
        Arrays.sort(process);
        Arrays.sort(thread);
        System.out.printf(
                Locale.ROOT,
                "%s %d %.3f %.3f %.3f %.3f %.3f%n",
                verdict.outcome().word(),
                verdict.findings().stream().map(f -> f.criterion()).distinct().count(),
                started.process,
                first.process,
                first.thread,
                process[ROUNDS / 2],
                thread[ROUNDS / 2]);
    }
}

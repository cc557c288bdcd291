// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.gpu;

import static java.util.Objects.requireNonNull;

import com.sun.jna.Memory;
import dev.loadwitness.agent.load.opencl.Compute;
import dev.loadwitness.agent.load.opencl.OpenClException;
import dev.loadwitness.agent.load.worker.ComputeDevice;
import java.io.IOException;
import java.io.InputStream;
import java.io.UncheckedIOException;
import java.nio.charset.StandardCharsets;
import java.util.ArrayDeque;
import java.util.ArrayList;
import java.util.Deque;
import java.util.List;
import java.util.Locale;
import org.jspecify.annotations.Nullable;

/**
 * Hands work to the device and checks every result. Launches are done in order; at most {@link #DEPTH} are under way, so that
 * the device always has the next one when it ends one.
 */
final class Engine implements AutoCloseable {
    static final int DEPTH = 2;

    private static final int BYTES_AN_ELEMENT = 16;
    private static final int WORDS_AN_ELEMENT = 4;
    private static final int ELEMENTS_A_STEP = 4;
    /** Far more than any cache holds, and far less than a graphics part has. */
    private static final long MOST_TRAFFIC_BYTES = 1L << 30;

    private static final long MOST_SHARED_BYTES = 256L << 20;
    private static final int PLANTED_ITEM = 1;
    private static final int PLANTED_BIT = 1 << 11;
    private static final int NO_ITEM = -1;
    /** Words that are searched for the wrong one, from the beginning of the launch that saw it. */
    private static final int SEARCHED_BYTES = 16 << 20;

    private static final double SLOWEST_GUESS_NANOS = 2e6;

    /** A step is dozens of operations one after the other: no clock is quick enough for four in a nanosecond. */
    private static final int STEPS_A_NANOSECOND = 4;

    /** Below that, a coarse clock may show nothing. */
    private static final int STEPS_THAT_TAKE_TIME = 1 << 12;

    /** Lengths grow no faster than this from launch to launch, so that one that was said to take no time is seen through. */
    private static final int GROWTH = 1 << 12;

    /** A device's clock may run otherwise than ours, and a wait may begin late, but not so. */
    private static final int LONGEST_RATIO = 2;

    private static final long LONGEST_MORE_NANOS = 5_000_000_000L;

    private final Compute compute;
    private final MultiplyAdd arithmetic;
    private final int width;
    private final Compute.Program withTraffic;
    private final Compute.Program withoutTraffic;
    private final Compute.Kernel trafficKernel;
    private final Compute.Kernel plainKernel;
    private final Compute.Kernel fill;
    private final Compute.Buffer memory;
    private final Deque<Launch> flying = new ArrayDeque<>();

    private @Nullable Setting setting;
    private TrafficMemory words = new TrafficMemory(1);
    private long elements;
    private Compute.@Nullable Buffer sums;
    private int launches;
    private final Memory[] answers = new Memory[DEPTH + 1];
    private int nextAnswer;
    private double nanosAStep;
    private long longestSteps;
    private long dueNanos;

    /** One launch that was handed over. */
    private record Launch(
            Compute.Command kernel,
            Compute.Command read,
            Memory answer,
            int groups,
            int steps,
            long cycles,
            Sums expected,
            long firstWord,
            boolean planted,
            long handedOverNanos,
            long dueNanos) {}

    /** What a work-group, or a whole launch, adds up to. */
    private record Sums(int chains, int chainsWeighted, int words, int wordsWeighted) {
        static final Sums NONE = new Sums(0, 0, 0, 0);

        Sums plus(int each) {
            return new Sums(chains + each, chainsWeighted + each, words + each, wordsWeighted + each);
        }

        Sums plus(Memory answer, long at) {
            return new Sums(
                    chains + answer.getInt(at),
                    chainsWeighted + answer.getInt(at + 4),
                    words + answer.getInt(at + 8),
                    wordsWeighted + answer.getInt(at + 12));
        }

        boolean sameChains(Sums other) {
            return chains == other.chains && chainsWeighted == other.chainsWeighted;
        }

        boolean sameWords(Sums other) {
            return words == other.words && wordsWeighted == other.wordsWeighted;
        }
    }

    /**
     * What a launch gave.
     *
     * @param wrong what was wrong, or empty
     */
    record Result(
            Compute.Span span,
            int steps,
            double gigaFlop,
            double gigabytes,
            String wrong,
            boolean planted,
            long seenNanos) {
        boolean isRight() {
            return wrong.isEmpty();
        }
    }

    Engine(Compute compute) {
        this.compute = compute;
        ComputeDevice device = compute.device();
        this.width = width(device.vectorWidth());
        this.arithmetic = new MultiplyAdd(width);
        String source = source();
        this.withTraffic = compute.build(source, "-cl-std=CL1.2 -DWIDTH=" + width + " -DTRAFFIC=1");
        this.withoutTraffic = compute.build(source, "-cl-std=CL1.2 -DWIDTH=" + width + " -DTRAFFIC=0");
        this.trafficKernel = withTraffic.kernel("work");
        this.plainKernel = withoutTraffic.kernel("work");
        this.fill = withTraffic.kernel("fill");
        long most =
                device.hostMemory() || device.type() != ComputeDevice.Type.GPU ? MOST_SHARED_BYTES : MOST_TRAFFIC_BYTES;
        this.memory = compute.buffer(Math.min(most, Math.min(device.allocationBytes(), device.memoryBytes() / 4)));
    }

    /** The vector widths that the program is written for; graphics parts prefer 1. */
    private static int width(int preferred) {
        return preferred >= 16 ? 16 : preferred >= 8 ? 8 : preferred >= 4 ? 4 : 1;
    }

    static String source() {
        try (InputStream in = Engine.class.getResourceAsStream("work.cl")) {
            return new String(in.readAllBytes(), StandardCharsets.UTF_8);
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    Compute.Program program() {
        return withTraffic;
    }

    /** The largest work-group for both programs. */
    int workGroup() {
        return Math.min(trafficKernel.workGroup(), plainKernel.workGroup());
    }

    /** Takes another setting; nothing may be under way. */
    void use(Setting next) {
        if (!flying.isEmpty()) {
            throw new IllegalStateException("launches are under way");
        }
        setting = next;
        nanosAStep = 0;
        longestSteps = 0;
        if (sums == null || sums.bytes() < (long) next.groups() * BYTES_AN_ELEMENT) {
            if (sums != null) {
                sums.close();
            }
            sums = compute.buffer((long) next.groups() * BYTES_AN_ELEMENT);
            for (int i = 0; i < answers.length; i++) {
                answers[i] = new Memory((long) next.groups() * BYTES_AN_ELEMENT);
            }
        }
        if (next.traffic()) {
            refill();
        }
    }

    private Setting setting() {
        return requireNonNull(setting, "a setting is taken before any launch");
    }

    private Compute.Buffer sums() {
        return requireNonNull(sums, "a setting is taken before any launch");
    }

    /** Gives all words their first value again: after another setting, or after a wrong one was seen. */
    private void refill() {
        long together = (long) ELEMENTS_A_STEP * setting().items();
        elements = memory.bytes() / BYTES_AN_ELEMENT / together * together;
        if (elements == 0) {
            throw OpenClException.tooLittle(String.format(
                    Locale.ROOT,
                    "%s says that it has %d compute units, and gives %d MiB of memory: too little for them",
                    compute.device().name(),
                    compute.device().computeUnits(),
                    memory.bytes() >> 20));
        }
        words = new TrafficMemory(elements * WORDS_AN_ELEMENT);
        fill.set(0, memory).set(1, 0);
        compute.run(fill, elements, setting().group()).release();
    }

    int underWay() {
        return flying.size();
    }

    /** How many steps take about so long; 1 before anything was measured. */
    int stepsFor(double nanos) {
        long most = Math.min(1 << 28, Math.max(STEPS_THAT_TAKE_TIME, GROWTH * longestSteps));
        return nanosAStep == 0 ? 1 : (int) Math.max(1, Math.min(most, Math.round(nanos / nanosAStep)));
    }

    /** When all that was handed over is expected to be done, in {@link System#nanoTime}. */
    long dueNanos() {
        return dueNanos;
    }

    double nanosAStep() {
        return nanosAStep;
    }

    /** Hands over a launch; {@code planted} makes its result wrong on purpose. */
    void launch(int steps, boolean planted) {
        Setting now = setting();
        Compute.Buffer perGroup = sums();
        boolean traffic = now.traffic();
        long cycles = traffic ? (long) steps * now.cycles() : steps;
        int[] chains = arithmetic.sums(now.items(), cycles);
        long first = words.cursor();
        if (planted && traffic) {
            disturb(first, PLANTED_BIT);
        }
        int[] passed =
                traffic ? words.pass((long) steps * ELEMENTS_A_STEP * now.items() * WORDS_AN_ELEMENT) : new int[2];
        Compute.Kernel kernel = traffic ? trafficKernel : plainKernel;
        kernel.set(0, traffic ? memory : perGroup)
                .set(1, (int) (first / WORDS_AN_ELEMENT))
                .set(2, (int) elements)
                .set(3, steps)
                .set(4, now.cycles())
                .set(5, planted && !traffic ? PLANTED_ITEM : NO_ITEM)
                .set(6, PLANTED_BIT)
                .set(7, ++launches)
                .set(8, perGroup)
                .setLocal(9, now.group() * BYTES_AN_ELEMENT);
        Memory answer = answers[nextAnswer];
        nextAnswer = (nextAnswer + 1) % answers.length;
        long handedOver = System.nanoTime();
        Compute.Command run = compute.run(kernel, now.items(), now.group());
        Compute.Command read = compute.read(perGroup, 0, answer, (long) now.groups() * BYTES_AN_ELEMENT);
        compute.flush();
        double guess = nanosAStep == 0 ? SLOWEST_GUESS_NANOS : nanosAStep * steps;
        dueNanos = Math.max(dueNanos, System.nanoTime()) + (long) guess;
        flying.add(new Launch(
                run,
                read,
                answer,
                now.groups(),
                steps,
                cycles,
                new Sums(chains[0], chains[1], passed[0], passed[1]).plus(launches * now.groups()),
                first,
                planted,
                handedOver,
                dueNanos));
    }

    /** Flips bits of a word in memory behind the back of what checks it. */
    void disturb(long word, int bits) {
        Memory disturbed = new Memory(Integer.BYTES);
        disturbed.setInt(0, words.word(word) ^ bits);
        Compute.Command write = compute.write(memory, word * Integer.BYTES, disturbed, Integer.BYTES);
        compute.flush();
        write.await(System.nanoTime());
        write.release();
    }

    /**
     * The length of the next launches, and the times of edges in the log, come from a clock that the driver reads.
     *
     * @throws OpenClException if a launch cannot have taken so long, or so short
     */
    private Compute.Span believable(Launch launch, Compute.Span span, long seenNanos) {
        long nanos = span.nanos();
        long waited = seenNanos - launch.handedOverNanos();
        boolean tooShort = launch.steps() >= STEPS_THAT_TAKE_TIME && nanos < launch.steps() / STEPS_A_NANOSECOND;
        if (nanos < 0 || tooShort || nanos > LONGEST_RATIO * waited + LONGEST_MORE_NANOS) {
            throw OpenClException.untrue(String.format(
                    Locale.ROOT,
                    "%s: its driver says that a launch of %d steps took %d ns, of which the result came after %d ns",
                    compute.device().describe(),
                    launch.steps(),
                    nanos,
                    waited));
        }
        return span;
    }

    /** Waits for the oldest launch and checks it. */
    Result land() {
        Launch launch = flying.remove();
        launch.read().await(launch.dueNanos());
        long seen = System.nanoTime();
        Compute.Span span = believable(launch, launch.kernel().span(), seen);
        launch.kernel().release();
        launch.read().release();
        dueNanos = flying.isEmpty() ? seen : dueNanos;
        longestSteps = Math.max(longestSteps, launch.steps());
        double measured = (double) span.nanos() / launch.steps();
        nanosAStep = nanosAStep == 0 || launch.steps() < 4 ? measured : 0.7 * nanosAStep + 0.3 * measured;
        Sums got = Sums.NONE;
        for (long group = 0; group < launch.groups(); group++) {
            got = got.plus(launch.answer(), group * BYTES_AN_ELEMENT);
        }
        String wrong = difference(launch.expected(), got);
        if (setting().traffic() && !wrong.isEmpty()) {
            // A wrong word would be seen again in every lap.
            while (!flying.isEmpty()) {
                Launch later = flying.remove();
                later.read().await(later.dueNanos());
                later.kernel().release();
                later.read().release();
            }
            if (!got.sameWords(launch.expected())) {
                wrong += firstWrongWord(launch);
            }
            refill();
        }
        return new Result(
                span,
                launch.steps(),
                1e-9 * launch.cycles() * setting().items() * arithmetic.operationsACycle(),
                setting().traffic()
                        ? 2e-9
                                * launch.steps()
                                * ELEMENTS_A_STEP
                                * BYTES_AN_ELEMENT
                                * setting().items()
                        : 0,
                wrong,
                launch.planted(),
                seen);
    }

    private static String difference(Sums expected, Sums got) {
        List<String> wrong = new ArrayList<>();
        if (!got.sameChains(expected)) {
            wrong.add(String.format(
                    Locale.ROOT,
                    "multiply-adds: expected sums %08x %08x, got %08x %08x",
                    expected.chains,
                    expected.chainsWeighted,
                    got.chains,
                    got.chainsWeighted));
        }
        if (!got.sameWords(expected)) {
            wrong.add(String.format(
                    Locale.ROOT,
                    "memory traffic: expected sums %08x %08x, got %08x %08x",
                    expected.words,
                    expected.wordsWeighted,
                    got.words,
                    got.wordsWeighted));
        }
        return String.join("; ", wrong);
    }

    /** A wrong word stays wrong under every later pass: it can be looked for afterwards. */
    private String firstWrongWord(Launch launch) {
        long begin = launch.firstWord() * Integer.BYTES;
        long bytes = Math.min(SEARCHED_BYTES, elements * BYTES_AN_ELEMENT - begin);
        Memory copy = new Memory(bytes);
        Compute.Command read = compute.read(memory, begin, copy, bytes);
        compute.flush();
        read.await(System.nanoTime());
        read.release();
        for (long i = 0; i < bytes / Integer.BYTES; i++) {
            int expected = words.word(launch.firstWord() + i);
            int got = copy.getInt(i * Integer.BYTES);
            if (got != expected) {
                return String.format(
                        Locale.ROOT, "; word %d: expected %08x, got %08x", launch.firstWord() + i, expected, got);
            }
        }
        return "; no wrong word in the first " + (bytes >> 20) + " MiB of the launch";
    }

    @Override
    public void close() {
        trafficKernel.close();
        plainKernel.close();
        fill.close();
        withTraffic.close();
        withoutTraffic.close();
        memory.close();
        if (sums != null) {
            sums.close();
        }
    }
}

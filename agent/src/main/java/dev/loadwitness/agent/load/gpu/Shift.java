// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.gpu;

import dev.loadwitness.agent.load.opencl.Compute;
import dev.loadwitness.agent.load.worker.ComputeDevice;
import dev.loadwitness.agent.load.worker.Worker.Bench;
import dev.loadwitness.agent.load.worker.Worker.Power;
import java.util.Locale;
import java.util.Optional;
import java.util.concurrent.TimeUnit;
import java.util.concurrent.locks.LockSupport;

/** Keeps a device at work as a kind of load asks for it, and tells the bench of every result. */
final class Shift {
    /** Long enough that handing over costs nothing, short of every driver's patience and of what a screen shows. */
    private static final double LAUNCH_NANOS = 25e6;

    private static final double CALIBRATION_NANOS = 2e6;
    /** Launches are cut anew when they take this much longer or shorter than they should. */
    private static final double LAUNCH_TOLERANCE = 0.3;

    /** A byte of memory traffic counts as so many floating-point operations where both are done at once. */
    private static final double OPERATIONS_A_BYTE = 32;

    private static final int[] CYCLES = {0, 1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64, 96};
    private static final int MIXES = CYCLES.length + 1;
    private static final int GROUP = 256;
    private static final int[] GROUPS_A_UNIT = {1, 2, 4, 8, 16, 32};
    private static final int FIRST_SHAPE = 3;

    private static final long BLIND_TRIAL_NANOS = TimeUnit.MILLISECONDS.toNanos(500);
    private static final long POWER_FRESH_NANOS = TimeUnit.SECONDS.toNanos(3);

    private static final double[] LEVELS = {0.25, 0.5, 0.75, 1, 0.75, 0.5, 0.25, 0};
    private static final long LEVEL_NANOS = TimeUnit.SECONDS.toNanos(5);
    private static final long LEVEL_PERIOD_NANOS = TimeUnit.MILLISECONDS.toNanos(20);

    private static final double[] STEP_PERIOD_SECONDS = {4, 2, 1, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005};
    private static final double STEP_DUTY = 0.5;
    /** What is left of a pulse is worked off only if it is more than this share of it. */
    private static final double SHORTEST_PART = 0.1;

    private static final long STEP_NANOS = TimeUnit.SECONDS.toNanos(4);
    private static final int FEWEST_STEPS = 2;

    private final Engine engine;
    private final ComputeDevice device;
    private final GpuWorker.Kind kind;
    private final Bench bench;
    private final int group;

    private String settingText = "";
    private int steps = 1;
    private boolean plantPending;
    private boolean plantAgain;
    private double fractionOfUnit;
    private long hostLessDeviceNanos = Long.MAX_VALUE;

    private final Throughput throughput = new Throughput();

    Shift(Engine engine, ComputeDevice device, GpuWorker.Kind kind, Bench bench) {
        this.engine = engine;
        this.device = device;
        this.kind = kind;
        this.bench = bench;
        this.group = device.type() == ComputeDevice.Type.GPU
                ? Integer.highestOneBit(Math.min(GROUP, engine.workGroup()))
                : 1;
    }

    private Setting setting(Search.Point point) {
        int groups = device.computeUnits() * GROUPS_A_UNIT[point.shape()];
        boolean traffic = kind != GpuWorker.Kind.CORE && point.mix() < CYCLES.length;
        int cycles = kind == GpuWorker.Kind.MEMORY || !traffic ? 0 : CYCLES[point.mix()];
        return new Setting(traffic, cycles, group, groups);
    }

    /** Tries what there is to choose from, and stays with the heaviest. */
    void tune() {
        boolean mixed = kind == GpuWorker.Kind.MIX;
        int startMix = mixed ? balance().mix() : 0;
        Search search = new Search(mixed ? MIXES : 1, GROUPS_A_UNIT.length, new Search.Point(startMix, FIRST_SHAPE));
        boolean byPower = mixed && powerIsFresh();
        double[] highest = new double[2];
        String chosen = "";
        double most = Double.NaN;
        for (Optional<Search.Point> next = search.next(); next.isPresent() && bench.goesOn(); next = search.next()) {
            use(setting(next.get()));
            Throughput.Rates rates = byPower ? trialByPower() : trialByRate();
            highest[0] = Math.max(highest[0], rates.gflops());
            highest[1] = Math.max(highest[1], rates.gigabytes());
            double value =
                    byPower ? rates.watts() : share(rates.gflops(), highest[0]) + share(rates.gigabytes(), highest[1]);
            if (!mixed) {
                value = kind == GpuWorker.Kind.CORE ? rates.gflops() : rates.gigabytes();
            }
            search.tried(next.get(), value);
            String detail = String.format(
                    Locale.ROOT, "%s: %.0f GFLOP/s, %.1f GB/s", settingText, rates.gflops(), rates.gigabytes());
            bench.tuned(detail, byPower, value, false);
            if (search.heaviest().equals(next.get())) {
                chosen = detail;
                most = value;
            }
        }
        use(setting(search.heaviest()));
        bench.tuned(chosen, byPower, most, true);
    }

    private static double share(double rate, double highest) {
        return highest > 0 ? rate / highest : 0;
    }

    private boolean powerIsFresh() {
        return bench.power()
                .filter(p -> System.nanoTime() - p.nanos() < POWER_FRESH_NANOS)
                .isPresent();
    }

    private Throughput.Rates trialByPower() {
        Throughput.Mark begin = throughput.mark();
        Dwell dwell = new Dwell(begin.nanos());
        long lastReading = begin.nanos();
        while (bench.goesOn() && !dwell.isOver(System.nanoTime())) {
            work(LAUNCH_NANOS);
            Optional<Power> power = bench.power();
            if (power.isPresent() && power.get().nanos() > lastReading) {
                lastReading = power.get().nanos();
                dwell.power(lastReading, power.get().watts());
            }
        }
        drain();
        return throughput.since(begin, dwell.watts());
    }

    private Throughput.Rates trialByRate() {
        Throughput.Mark begin = throughput.mark();
        while (bench.goesOn() && System.nanoTime() - begin.nanos() < BLIND_TRIAL_NANOS) {
            work(LAUNCH_NANOS);
        }
        drain();
        return throughput.since(begin, Double.NaN);
    }

    /**
     * Takes the mix in which memory and arithmetic take equally long, found by single short launches with rests between them:
     * the ramp comes before the first full load of a repaired board, so nothing may load it fully before that.
     */
    Search.Point balance() {
        boolean onlyOne = kind == GpuWorker.Kind.CORE || kind == GpuWorker.Kind.MEMORY;
        use(new Setting(true, 0, group, groups()));
        double trafficNanos = engine.nanosAStep();
        rest();
        use(new Setting(false, 0, group, groups()));
        double cycleNanos = engine.nanosAStep();
        rest();
        int mix = 0;
        for (int i = 0; i < CYCLES.length; i++) {
            if (CYCLES[i] * cycleNanos <= trafficNanos) {
                mix = i;
            }
        }
        Search.Point point = new Search.Point(onlyOne ? 0 : Math.max(1, mix), FIRST_SHAPE);
        use(setting(point));
        bench.tuned(
                String.format(Locale.ROOT, "%s: where memory and arithmetic take equally long", settingText),
                false,
                cycleNanos == 0 ? Double.NaN : trafficNanos / cycleNanos,
                kind != GpuWorker.Kind.MIX);
        return point;
    }

    private int groups() {
        return device.computeUnits() * GROUPS_A_UNIT[FIRST_SHAPE];
    }

    private static void rest() {
        LockSupport.parkNanos(TimeUnit.MILLISECONDS.toNanos(100));
    }

    /** Takes a setting and finds out how long its steps take, with launches that begin at the smallest. */
    private void use(Setting setting) {
        drain();
        engine.use(setting);
        settingText = setting.describe();
        steps = 1;
        for (int i = 0; i < 30 && bench.goesOn(); i++) {
            engine.launch(steps, false);
            Engine.Result result = land();
            if (result.span().nanos() >= CALIBRATION_NANOS) {
                break;
            }
            steps *= 2;
        }
        steps = engine.stepsFor(LAUNCH_NANOS);
    }

    /** Full load until it is told to end. */
    void hold() {
        while (bench.goesOn()) {
            work(LAUNCH_NANOS);
        }
        drain();
    }

    /** Hands over what there is room for, and takes one result. */
    private void work(double launchNanos) {
        double takes = steps * engine.nanosAStep();
        if (Math.abs(takes / launchNanos - 1) > LAUNCH_TOLERANCE) {
            steps = engine.stepsFor(launchNanos);
        }
        while (engine.underWay() < Engine.DEPTH) {
            launch(steps);
        }
        land();
    }

    private void launch(int steps) {
        engine.launch(steps, takePlant());
    }

    private void drain() {
        while (engine.underWay() > 0) {
            land();
        }
    }

    private Engine.Result land() {
        Engine.Result result = engine.land();
        throughput.busy(result.span().nanos());
        hostLessDeviceNanos =
                Math.min(hostLessDeviceNanos, result.seenNanos() - result.span().endNanos());
        if (result.isRight() && !result.planted()) {
            throughput.done(result);
            fractionOfUnit += units(result);
            long whole = (long) fractionOfUnit;
            fractionOfUnit -= whole;
            bench.right(whole);
        } else if (!result.isRight() && result.planted()) {
            bench.plantCaught();
        } else if (!result.isRight()) {
            bench.wrong(device.name() + ", " + settingText + ": " + result.wrong());
        }
        plantPending &= !result.planted();
        if (plantPending && engine.underWay() == 0) {
            // An error took what came after it along, the planted one too.
            plantPending = false;
            plantAgain = true;
        }
        throughput.note(device, settingText).ifPresent(bench::note);
        return result;
    }

    /** One unit is 10^9 floating-point operations, or 10^9 bytes of traffic, or where both are done, both. */
    private double units(Engine.Result result) {
        return switch (kind) {
            case CORE -> result.gigaFlop();
            case MEMORY -> result.gigabytes();
            case MIX, RAMP, STEPS -> result.gigaFlop() + OPERATIONS_A_BYTE * result.gigabytes();
        };
    }

    /** From low to full load and down again, over and over; the level is the share of each 20 ms in which it works. */
    void ramp() {
        while (bench.goesOn()) {
            for (double level : LEVELS) {
                level(level);
            }
        }
        drain();
    }

    private void level(double level) {
        long due = System.nanoTime();
        if (level == 0) {
            bench.level(0, 0);
            sleepUntil(due + LEVEL_NANOS);
            return;
        }
        boolean told = false;
        for (long at = due; at < due + LEVEL_NANOS && bench.goesOn(); at += LEVEL_PERIOD_NANOS) {
            sleepUntil(at);
            if (level == 1) {
                work((double) LEVEL_PERIOD_NANOS);
            } else {
                drain();
                engine.launch(engine.stepsFor(level * LEVEL_PERIOD_NANOS), takePlant());
            }
            if (!told && engine.underWay() < Engine.DEPTH) {
                Engine.Result first = level == 1 ? null : land();
                long began = first == null ? System.nanoTime() : first.span().beginNanos() + hostLessDeviceNanos;
                bench.level(level, soFar(began, due) / 1e9);
                told = true;
            }
            if (System.nanoTime() > at + LEVEL_PERIOD_NANOS) {
                at = System.nanoTime() - LEVEL_PERIOD_NANOS; // late pulses are late, never made up
            }
        }
        drain();
    }

    private boolean takePlant() {
        boolean plant = !plantPending && (plantAgain || bench.takePlant());
        plantAgain &= !plant;
        plantPending |= plant;
        return plant;
    }

    /** On and off, from seconds down to milliseconds, over and over. */
    void steps() {
        while (bench.goesOn()) {
            for (double period : STEP_PERIOD_SECONDS) {
                steps(period);
            }
        }
    }

    private void steps(double periodSeconds) {
        long period = (long) (periodSeconds * 1e9);
        long count = Math.max(FEWEST_STEPS, STEP_NANOS / period);
        Edges edges = new Edges();
        long at = System.nanoTime();
        for (long i = 0; i < count && bench.goesOn(); i++) {
            sleepUntil(at);
            edges.add(pulse(STEP_DUTY * 1e9 * periodSeconds));
            if (edges.isFull()) {
                tell(periodSeconds, edges);
            }
            at = Math.max(at + period, System.nanoTime());
        }
        tell(periodSeconds, edges);
    }

    /** Works for so long; returns from when to when, on the device's clock. */
    private Compute.Span pulse(double nanos) {
        long begin = Long.MAX_VALUE;
        long end = Long.MIN_VALUE;
        long off = System.nanoTime() + (long) nanos;
        double least = SHORTEST_PART * Math.min(nanos, LAUNCH_NANOS);
        boolean any = false;
        while (true) {
            while (engine.underWay() < Engine.DEPTH) {
                double left = (double) (off - Math.max(System.nanoTime(), engine.dueNanos()));
                if (any && (left < least || !bench.goesOn())) {
                    break;
                }
                engine.launch(engine.stepsFor(Math.min(left, LAUNCH_NANOS)), takePlant());
                any = true;
            }
            if (engine.underWay() == 0) {
                return new Compute.Span(begin, end);
            }
            Compute.Span span = land().span();
            begin = Math.min(begin, span.beginNanos());
            end = Math.max(end, span.endNanos());
        }
    }

    private void tell(double periodSeconds, Edges edges) {
        if (!edges.isEmpty()) {
            bench.edges(
                    periodSeconds,
                    STEP_DUTY,
                    soFar(edges.firstNanos() + hostLessDeviceNanos, bench.beganNanos()) / 1e9,
                    edges.inOrder());
            edges.clear();
        }
    }

    /** How long after {@code since} it was, by a clock that may err: not before that, and not in time to come. */
    private static long soFar(long nanos, long since) {
        return Math.max(0, Math.min(nanos - since, System.nanoTime() - since));
    }

    private void sleepUntil(long nanos) {
        for (long left = nanos - System.nanoTime(); left > 0 && bench.goesOn(); left = nanos - System.nanoTime()) {
            LockSupport.parkNanos(Math.min(left, TimeUnit.MILLISECONDS.toNanos(100)));
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import dev.loadwitness.reporter.statistics.StepResponse;
import java.util.ArrayList;
import java.util.List;
import java.util.Locale;
import java.util.Random;

/**
 * Do the 95 % intervals of a plateau contain it? Machines that are no exponential: a die on a heatsink in a case, fans that go
 * in steps, power that wanders, integer sensors that round, round down or stick. Each hour is looked at after 20, 30 and 60
 * minutes. Prints the table of {@code docs/computation.md}; give the number of machines, 2,000 if none is given.
 */
public final class PlateauTrial {
    static final long SEED = 20261125;
    private static final int[] MINUTES = {20, 30, 60};
    private static final double LONGEST = 3600;

    /** Where the true slowest time constant ends a row, in seconds. */
    private static final double[] ROWS = {300, 600, 1200, 3600};

    private PlateauTrial() {}

    /** What became of the machines of one row. */
    static final class Tally {
        final int minutes;
        final double slowestFrom;
        final double slowestTo;
        int machines;
        int told;
        int covered;
        int coveredByScatter;
        double errors;
        final List<Double> halfWidths = new ArrayList<>();

        Tally(int minutes, double slowestFrom, double slowestTo) {
            this.minutes = minutes;
            this.slowestFrom = slowestFrom;
            this.slowestTo = slowestTo;
        }

        double coverage() {
            return (double) covered / told;
        }

        double medianHalfWidth() {
            List<Double> sorted = halfWidths.stream().sorted().toList();
            return sorted.isEmpty() ? Double.NaN : sorted.get(sorted.size() / 2);
        }

        private void add(StepResponse found, double truth) {
            machines++;
            if (found.told() == StepResponse.Told.YES) {
                told++;
                double error = found.plateau() - truth;
                errors += error;
                covered += Math.abs(error) <= found.halfWidth() ? 1 : 0;
                coveredByScatter += Math.abs(error) <= found.statistical() ? 1 : 0;
                halfWidths.add(found.halfWidth());
            }
        }

        @Override
        public String toString() {
            return String.format(
                    Locale.ROOT,
                    "| %d min | %.0f to %.0f s | %d | %.0f %% | %s | %s | %s | %s |",
                    minutes,
                    slowestFrom,
                    slowestTo,
                    machines,
                    100.0 * told / machines,
                    told == 0 ? "–" : String.format(Locale.ROOT, "%.1f %%", 100 * coverage()),
                    told == 0 ? "–" : String.format(Locale.ROOT, "%.0f %%", 100.0 * coveredByScatter / told),
                    told == 0 ? "–" : String.format(Locale.ROOT, "%.1f K", medianHalfWidth()),
                    told == 0 ? "–" : String.format(Locale.ROOT, "%+.1f K", errors / told));
        }
    }

    @SuppressWarnings("SystemOut") // a program for the terminal
    public static void main(String[] args) {
        int machines = args.length > 0 ? Integer.parseInt(args[0]) : 2000;
        System.out.println(
                "| stage | slowest time constant | machines | told | covered | by the scatter alone | half width | mean error |");
        System.out.println("| --- | --- | --- | --- | --- | --- | --- | --- |");
        run(machines, SEED).forEach(System.out::println);
    }

    static List<Tally> run(int machines, long seed) {
        List<Tally> tallies = new ArrayList<>();
        for (int minutes : MINUTES) {
            double from = 0;
            for (double to : ROWS) {
                tallies.add(new Tally(minutes, from, to));
                from = to;
            }
        }
        Random random = new Random(seed);
        for (int i = 0; i < machines; i++) {
            Machine machine = new Machine(new Random(random.nextLong()));
            for (int minutes : MINUTES) {
                machine.runUntil(60 * minutes);
                tallies.stream()
                        .filter(t -> t.minutes == minutes
                                && machine.slowestSeconds > t.slowestFrom
                                && machine.slowestSeconds <= t.slowestTo)
                        .forEach(t -> t.add(machine.fit(), machine.plateau()));
            }
        }
        return tallies;
    }

    /** Lumps 0 die, 1 heatsink, 2 case. */
    private static final class Machine {
        private final Random random;
        private final Quantiser sensor;
        private final boolean roundsDown;
        private final double dieContact;
        private final double finsAtFullFan;
        private final double caseToRoom;
        private final double sinkToCase;
        private final double[] capacities;
        private final double watts;
        private final Fan fan = new Fan(1);
        private final ThermalNetwork heat;
        private final double[] read = new double[(int) LONGEST];
        private int seconds;
        private int fanSteadySince;
        private double fanSpeed;
        private double quick;
        private double slow;
        final double slowestSeconds;

        Machine(Random random) {
            this.random = random;
            int kind = random.nextInt(3);
            sensor = new Quantiser(1, kind == 2 ? 0.2 : 0);
            roundsDown = kind == 1;
            dieContact = between(0.1, 0.25);
            finsAtFullFan = between(3, 6);
            sinkToCase = between(0.5, 2.5);
            caseToRoom = between(1, 3);
            watts = between(60, 160);
            // A laptop's case stores about 1,000 J/K (from memory); far lighter and far heavier ones are tried as well.
            double caseCapacity = StrictMath.exp(between(StrictMath.log(150), StrictMath.log(6000)));
            capacities = new double[] {between(10, 40), between(100, 400), caseCapacity};
            double room = between(18, 28);
            heat = new ThermalNetwork(room, capacities);
            double warm = between(0, 10);
            heat.settleAt(room + warm + 8, room + warm + 6, room + warm);
            connect(heat, fan.rpm());
            slowestSeconds = slowest();
        }

        private double between(double least, double most) {
            return least + (most - least) * random.nextDouble();
        }

        private void connect(ThermalNetwork network, double rpm) {
            network.connect(0, 1, 1 / dieContact);
            network.connect(1, 2, sinkToCase);
            network.connectToAmbient(1, 0.6 + finsAtFullFan * StrictMath.pow(rpm / Fan.MOST_RPM, 0.8));
            network.connectToAmbient(2, caseToRoom);
        }

        void runUntil(int end) {
            while (seconds < end) {
                quick += -quick / 4 + 0.012 * StrictMath.sqrt(0.5) * random.nextGaussian();
                slow += -slow / 60 + 0.005 * StrictMath.sqrt(1 / 30.0) * random.nextGaussian();
                for (int i = 0; i < 2; i++) {
                    fan.step(0.5, heat.celsius(0));
                    connect(heat, fan.rpm());
                    heat.step(0.5, watts * (1 + quick + slow), 0, 10);
                }
                if (Math.abs(fan.rpm() - fanSpeed) > 0.05 * fanSpeed) {
                    fanSpeed = fan.rpm();
                    fanSteadySince = seconds + 20;
                }
                double noisy = heat.celsius(0) + 0.1 * random.nextGaussian();
                read[seconds++] = roundsDown ? Math.floor(noisy) : sensor.read(noisy);
            }
        }

        /** Of the readings since the fan last changed, in means of two seconds, as the judgement does. */
        StepResponse fit() {
            int from = Math.min(seconds, Math.max(30, fanSteadySince));
            double[] means = new double[(seconds - from) / 2];
            double[] times = new double[means.length];
            for (int i = 0; i < means.length; i++) {
                means[i] = (read[from + 2 * i] + read[from + 2 * i + 1]) / 2;
                times[i] = 2 * i + 1;
            }
            return StepResponse.of(times, means, 1);
        }

        /** Where the die comes to rest if the fan stays as it is now. */
        double plateau() {
            return settled(fan.rpm(), watts);
        }

        private double settled(double rpm, double power) {
            ThermalNetwork rest = new ThermalNetwork(heat.ambientCelsius(), 10, 10, 10);
            connect(rest, rpm);
            // The capacities do not matter for where it ends, only for how soon.
            for (int i = 0; i < 1200; i++) {
                rest.step(0.25, power, 0, 10);
            }
            return rest.celsius(0);
        }

        /** Slowest time constant with the fan at its third step: how fast the last of a rise fades. */
        private double slowest() {
            ThermalNetwork fading = new ThermalNetwork(0, capacities);
            connect(fading, 3600);
            fading.settleAt(1, 1, 1);
            int steps = 20_000;
            for (int i = 0; i < steps / 2; i++) {
                fading.step(1, 0, 0, 0);
            }
            double before = fading.celsius(2);
            for (int i = 0; i < 100; i++) {
                fading.step(1, 0, 0, 0);
            }
            return before > 1e-280 ? -100 / StrictMath.log(fading.celsius(2) / before) : 0;
        }
    }
}

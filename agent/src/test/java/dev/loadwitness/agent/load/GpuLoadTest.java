// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.agent.load.worker.ComputeDevice;
import dev.loadwitness.runlog.procedure.LoadKind;
import java.io.IOException;
import java.time.Duration;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import java.util.function.Predicate;
import org.junit.jupiter.api.Test;

/** Real worker processes on the real OpenCL of this machine, a processor device at least. */
final class GpuLoadTest {
    private static final LoadLauncher LAUNCHER = LoadLauncher.ofThisProgram();
    private static final Duration LIMIT = Duration.ofSeconds(60);

    private static ComputeDevice device() throws InterruptedException {
        LoadLauncher.Listing listing = LAUNCHER.devices();
        assertThat(listing.devices()).as(listing.problem()).isNotEmpty();
        return listing.devices().get(0);
    }

    /** A load that is looked after, as a run does it. */
    private static final class Attended implements AutoCloseable {
        final RunningLoad load;
        final List<LoadFact> facts = new ArrayList<>();

        Attended(LoadKind kind) throws IOException, InterruptedException {
            load = LAUNCHER.gpu(kind, device(), 0.003);
        }

        void until(String what, Predicate<Attended> condition) throws InterruptedException {
            long end = System.nanoTime() + LIMIT.toNanos();
            while (!condition.test(this)) {
                facts.addAll(load.check(System.nanoTime()));
                assertThat(facts)
                        .as("while waiting for: %s", what)
                        .noneMatch(f -> f instanceof LoadFact.Died || f instanceof LoadFact.Wrong);
                if (System.nanoTime() > end) {
                    throw new AssertionError("not within " + LIMIT + ": " + what + "; " + load.note());
                }
                Thread.sleep(50);
            }
        }

        void provesThatItSees() throws InterruptedException {
            until("ready", a -> a.load.isReady());
            load.plantFault();
            until("planted fault caught", a -> a.load.plantCaught());
            long before = load.progress().verified();
            until("more work", a -> a.load.progress().verified() > before);
            assertThat(load.progress().errors()).isZero();
        }

        <F> List<F> of(Class<F> kind) {
            return facts.stream().filter(kind::isInstance).map(kind::cast).toList();
        }

        @Override
        public void close() {
            load.close();
        }
    }

    @Test
    void aCoreLoadVerifiesItsWorkAndFindsAPlantedFault() throws IOException, InterruptedException {
        try (Attended core = new Attended(LoadKind.GPU_CORE)) {
            core.provesThatItSees();
            assertThat(core.of(LoadFact.Tuned.class))
                    .filteredOn(LoadFact.Tuned::chosen)
                    .singleElement()
                    .satisfies(t -> assertThat(t.detail())
                            .contains("multiply-adds only")
                            .contains("GFLOP/s"));
        }
    }

    @Test
    void aMemoryLoadVerifiesItsWorkAndFindsAPlantedFault() throws IOException, InterruptedException {
        try (Attended memory = new Attended(LoadKind.GPU_MEMORY)) {
            memory.provesThatItSees();
        }
    }

    @Test
    void aMixHoldsTheHeaviestThatItTriedBlind() throws IOException, InterruptedException {
        try (Attended mix = new Attended(LoadKind.GPU_MIX)) {
            mix.provesThatItSees();
            List<LoadFact.Tuned> tuned = mix.of(LoadFact.Tuned.class);
            LoadFact.Tuned chosen =
                    tuned.stream().filter(LoadFact.Tuned::chosen).findFirst().orElseThrow();
            assertThat(chosen.ofPower()).isFalse();
            assertThat(tuned.stream().skip(1).mapToDouble(LoadFact.Tuned::value).max())
                    .hasValue(chosen.value());
        }
    }

    @Test
    void aMixIsTunedByPowerWhereItIsTold() throws IOException, InterruptedException {
        try (Attended mix = new Attended(LoadKind.GPU_MIX)) {
            mix.until("a trial by power", a -> {
                a.load.power(42);
                return a.of(LoadFact.Tuned.class).stream().anyMatch(LoadFact.Tuned::ofPower);
            });
            assertThat(mix.of(LoadFact.Tuned.class))
                    .filteredOn(LoadFact.Tuned::ofPower)
                    .first()
                    .satisfies(t -> assertThat(t.value()).isEqualTo(42));
        }
    }

    @Test
    void aRampTellsItsLevels() throws IOException, InterruptedException {
        try (Attended ramp = new Attended(LoadKind.GPU_RAMP)) {
            ramp.provesThatItSees();
            ramp.until("second level", a -> a.of(LoadFact.Level.class).size() >= 2);
            assertThat(ramp.of(LoadFact.Level.class).stream().map(LoadFact.Level::level))
                    .startsWith(0.25, 0.5);
        }
    }

    @Test
    void stepsTellTheirEdgesInOrder() throws IOException, InterruptedException {
        try (Attended steps = new Attended(LoadKind.GPU_STEPS)) {
            steps.provesThatItSees();
            steps.until("edges", a -> !a.of(LoadFact.Edges.class).isEmpty());
            LoadFact.Edges edges = steps.of(LoadFact.Edges.class).get(0);
            assertThat(edges.periodSeconds()).isEqualTo(4);
            List<Long> micros = java.util.Arrays.stream(edges.edges().split(","))
                    .map(Long::valueOf)
                    .toList();
            assertThat(micros).hasSize(4).isSorted().startsWith(0L);
            assertThat(micros.get(2)).isBetween(3_500_000L, 6_000_000L);
        }
    }

    @Test
    void aDeviceThatIsGoneIsToldByTheWorkerThatWantedIt() throws IOException, InterruptedException {
        ComputeDevice there = device();
        ComputeDevice gone = ComputeDevice.ofLine(there.toLine().replaceFirst("^[0-9]+\t[0-9]+\t", "0\t7\t"));
        try (RunningLoad load = LAUNCHER.gpu(LoadKind.GPU_CORE, gone, 0.01)) {
            long end = System.nanoTime() + LIMIT.toNanos();
            List<LoadFact> facts = new ArrayList<>();
            while (facts.isEmpty() && System.nanoTime() < end) {
                facts.addAll(load.check(System.nanoTime()));
                Thread.sleep(50);
            }
            assertThat(facts)
                    .singleElement()
                    .isInstanceOfSatisfying(
                            LoadFact.Died.class,
                            d -> assertThat(d.detail()).contains("OpenCL has no device 0:7 any more"));
        }
    }

    @Test
    void aDeviceSurvivesTheWayToItsLineAndBack() {
        ComputeDevice device = new ComputeDevice(
                1,
                2,
                ComputeDevice.Type.GPU,
                "Corvid G7\t150W",
                "Fernhollow",
                "driver 1.2",
                Optional.of("0000:01:00.0"),
                8L << 30,
                2L << 30,
                false,
                40,
                2100,
                1024,
                1,
                128);
        ComputeDevice back = ComputeDevice.ofLine(device.toLine());
        assertThat(back.name()).isEqualTo("Corvid G7 150W");
        assertThat(back.pciAddress()).contains("0000:01:00.0");
        assertThat(back.toLine()).isEqualTo(device.toLine());
        assertThat(back.peakGflops()).contains(2e-3 * 40 * 128 * 2100);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.agent.load.child.WorkerMain;
import dev.loadwitness.agent.load.opencl.StubDriver;
import dev.loadwitness.agent.load.worker.ComputeDevice;
import dev.loadwitness.agent.load.worker.Worker;
import dev.loadwitness.runlog.procedure.LoadKind;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.util.ArrayList;
import java.util.List;
import java.util.concurrent.FutureTask;
import java.util.concurrent.TimeUnit;
import java.util.function.BooleanSupplier;
import org.junit.jupiter.api.BeforeAll;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;
import org.junit.jupiter.params.provider.ValueSource;

/** The real processes with {@code src/test/c/opencl_stub.c} as their driver: gcc must be there. */
final class HostileDriverTest {
    private static final Duration LIMIT = Duration.ofSeconds(60);
    private static final Duration LISTING = Duration.ofMinutes(2);
    private static final Duration HANGS = Duration.ofSeconds(15);

    @TempDir
    static Path folder;

    private static Path library;
    private static FutureTask<LoadLauncher.Listing> hanging;

    /** A worker whose driver is the library that its first argument names. */
    static final class Worker {
        private Worker() {}

        public static void main(String[] args) {
            List<String> all = List.of(args);
            WorkerMain.run(all.subList(1, all.size()).toArray(new String[0]), () -> StubDriver.load(Path.of(args[0])));
        }
    }

    @BeforeAll
    static void build() throws IOException, InterruptedException {
        library = StubDriver.build(folder.resolve("sound.so"));
        hanging = new FutureTask<>(() -> driver("two-hang-clGetDeviceInfo").devices(HANGS));
        Thread thread = new Thread(hanging, "hanging");
        thread.setDaemon(true);
        thread.start();
    }

    private static LoadLauncher driver(String behaviour) throws IOException {
        Path file = folder.resolve(behaviour + ".so");
        if (!Files.exists(file)) {
            Files.copy(library, file);
        }
        return new LoadLauncher(List.of(), "normal", Worker.class, List.of(file.toString()));
    }

    private static LoadLauncher.Listing listing(String behaviour) throws IOException, InterruptedException {
        return driver(behaviour).devices(LISTING);
    }

    private static ComputeDevice device() {
        return ComputeDevice.ofLine(
                "0\t0\tGPU\tCorvid G7 150W\tFernhollow\tCorvid CL 1.0\t\t1073741824\t268435456\tfalse\t8\t1500\t256\t1\t0");
    }

    /** A load with this driver, looked after until the condition holds. */
    private static final class Attended implements AutoCloseable {
        final RunningLoad load;
        final List<LoadFact> facts = new ArrayList<>();

        Attended(String behaviour) throws IOException {
            load = driver(behaviour).gpu(LoadKind.GPU_CORE, device(), 0.01);
        }

        void until(BooleanSupplier condition) throws InterruptedException {
            long end = System.nanoTime() + LIMIT.toNanos();
            while (!condition.getAsBoolean()) {
                facts.addAll(load.check(System.nanoTime()));
                assertThat(System.nanoTime())
                        .as("not within %s; %s", LIMIT, facts)
                        .isLessThan(end);
                Thread.sleep(20);
            }
            assertThat(load.isReady()).as("ready").isFalse();
        }

        String died() throws InterruptedException {
            until(() -> facts.stream().anyMatch(LoadFact.Died.class::isInstance));
            return facts.stream()
                    .filter(LoadFact.Died.class::isInstance)
                    .map(f -> ((LoadFact.Died) f).detail())
                    .findFirst()
                    .orElseThrow();
        }

        @Override
        public void close() {
            load.close();
        }
    }

    @Test
    void aDriverThatIsSoundIsListed() throws IOException, InterruptedException {
        LoadLauncher.Listing listing = listing("sound");
        assertThat(listing.problem()).isEmpty();
        assertThat(listing.devices()).singleElement().satisfies(d -> {
            assertThat(d.name()).isEqualTo("Corvid G7 150W");
            assertThat(d.pciAddress()).contains("0000:01:00.0");
        });
    }

    @Test
    void eachDriverThatLiesIsNamedAndCostsOnlyItsOwnDevice() throws IOException, InterruptedException {
        LoadLauncher.Listing listing = listing("lies");
        assertThat(listing.problem().split("; (?=the OpenCL)"))
                .satisfiesExactly(
                        p -> assertThat(p).contains("'devices-2-31' says that it has 2147483647 devices"),
                        p -> assertThat(p).contains("'devices-negative' says that it has 2147483648 devices"),
                        p -> assertThat(p).contains("'devices-fewer' says that it has 3 devices, then that it has 1;"),
                        p -> assertThat(p).contains("'devices-more' says that it has 1 devices, then that it has 7;"),
                        p -> assertThat(p)
                                .contains("'devices-none' says that it has 2 devices", "gives nothing for one"),
                        p -> assertThat(p).contains("'size-2-63'", "9223372036854775808 bytes long"),
                        p -> assertThat(p).contains("'size-gigabyte'", "1073741824 bytes long"),
                        p -> assertThat(p).contains("'memory-0'", "bytes of memory are 0,"),
                        p -> assertThat(p).contains("'memory-2-63'", "bytes of memory are -9223372036854775808,"),
                        p -> assertThat(p).contains("'units-0'", "compute units are 0,"),
                        p -> assertThat(p).contains("'units-2-31'", "compute units are 2147483647,"),
                        p -> assertThat(p).contains("'group-0'", "work-group are 0,"),
                        p -> assertThat(p).contains("'group-2-63'", "work-group are -1,"),
                        p -> assertThat(p).contains("'vector-2-32'", "vector are 2147483647,"),
                        p -> assertThat(p).contains("'clock-2-32'", "megahertz are 2147483647,"),
                        p -> assertThat(p).contains("'allocation-0'", "one buffer are 0,"));
        assertThat(listing.devices())
                .satisfiesExactly(
                        d -> assertThat(d.pciAddress()).isEmpty(),
                        d -> assertThat(d.allocationBytes()).isEqualTo(d.memoryBytes()),
                        d -> assertThat(d.peakGflops()).isEmpty(),
                        d -> assertThat(d.name()).isEqualTo("x".repeat(200) + " …"),
                        d -> assertThat(d.name()).isEqualTo("Corvid device 0 G7⟨U+001B⟩[2J"),
                        d -> assertThat(d.driver()).isEqualTo("sound 1.0"));
    }

    @ParameterizedTest
    @CsvSource({
        "platforms-2-31, has 2147483647 platforms",
        "platforms-negative, has 4294967295 platforms",
        "platforms-fewer, 'has 1 platforms, then that it has 0'",
        "crash-clGetPlatformIDs, brought down the process that asked it",
        "flood, say more than any that lists devices",
        "endless, say more than any that lists devices"
    })
    void aLibraryThatLiesOrEndsBeforeItNamesADriverIsToldInWords(String behaviour, String words)
            throws IOException, InterruptedException {
        LoadLauncher.Listing listing = listing(behaviour);
        assertThat(listing.devices()).isEmpty();
        assertThat(listing.problem()).contains(words);
    }

    @ParameterizedTest
    @ValueSource(
            strings = {"crash-clGetDeviceInfo", "abort-clGetDeviceInfo", "exit-clGetDeviceIDs", "_exit-clGetDeviceInfo"
            })
    void aDriverThatEndsTheListingIsNamedAndTheNextIsAskedByANewProcess(String end)
            throws IOException, InterruptedException {
        LoadLauncher.Listing listing = listing("two-" + end);
        assertThat(listing.devices())
                .singleElement()
                .satisfies(d -> assertThat(d.driver()).isEqualTo("Plain CL 1.0"));
        assertThat(listing.problem())
                .startsWith("the OpenCL driver 'Corvid CL' brought down the process that asked it");
    }

    @Test
    void aDriverThatHangsIsNamedAndTheNextIsAskedByANewProcess() throws Exception {
        LoadLauncher.Listing listing = hanging.get(60, TimeUnit.SECONDS);
        assertThat(listing.devices())
                .singleElement()
                .satisfies(d -> assertThat(d.driver()).isEqualTo("Plain CL 1.0"));
        assertThat(listing.problem())
                .isEqualTo("the OpenCL driver 'Corvid CL' gave no answer within " + HANGS.toSeconds() + " s");
    }

    @Test
    void aListingThatHangsEndsWithWhoeverWaitedForIt() throws IOException, InterruptedException {
        Path hangs = Files.copy(library, folder.resolve("hang-clGetDeviceIDs.so"));
        Process process = new ProcessBuilder(
                        Path.of(System.getProperty("java.home"), "bin", "java").toString(),
                        "-cp",
                        System.getProperty("java.class.path"),
                        Worker.class.getName(),
                        hangs.toString(),
                        "devices",
                        "0")
                .redirectError(ProcessBuilder.Redirect.INHERIT)
                .start();
        try {
            assertThat(process.inputReader().readLine()).isEqualTo("platform 0 ");
            process.getOutputStream().close(); // as the kernel does for one that was killed
            assertThat(process.waitFor(20, TimeUnit.SECONDS)).as("ended").isTrue();
        } finally {
            process.destroyForcibly();
        }
    }

    @Test
    void aDriverThatSaysDoneAndDoesNothingGetsErrorsAndIsNeverReady() throws IOException, InterruptedException {
        try (Attended idle = new Attended("sound")) {
            idle.until(() -> idle.load.progress().errors() > 2);
            assertThat(idle.load.progress().verified()).isZero();
            assertThat(idle.facts).hasAtLeastOneElementOfType(LoadFact.Wrong.class);
        }
    }

    @ParameterizedTest
    @CsvSource({
        "crash-clEnqueueNDRangeKernel, it crashed",
        "abort-clBuildProgram, signal 6 ended it",
        "exit-clEnqueueNDRangeKernel, 'exit status 0: it ended as if it were done, which it never is'",
        "_exit-clGetEventInfo, 'exit status 0: it ended as if it were done, which it never is'",
        "clock-still, 'steps took 0 ns'",
        "clock-last, 'steps took 0 ns'",
        "clock-back, 'steps took -1000 ns'",
        "clock-leap, 'steps took 4611686018427387904 ns'",
        "kernel-group-0, 'can have work-groups of 0; that cannot be: look at the graphics driver'",
        "kernel-group-2-63, can have work-groups of 9223372036854775808",
        "null-clCreateBuffer, but gave nothing",
        "null-clEnqueueNDRangeKernel, but gave nothing",
        "build-log, 'CL_BUILD_PROGRAM_FAILURE (-11): the driver''s compiler refused the program'",
        "says-nonsense, 'it never says: ''progress 1 2'' (words are missing); look at the graphics driver'",
        "says-caught, 'it never says: ''planted-caught'' (nothing was planted); look at the graphics driver'"
    })
    void aDriverThatLiesOrEndsUnderLoadCostsTheLoadWithWords(String behaviour, String words)
            throws IOException, InterruptedException {
        try (Attended load = new Attended(behaviour)) {
            assertThat(load.died()).contains(words);
            assertThat(load.load.progress().verified()).isZero();
        }
    }

    @Test
    void aLibraryWithoutTheFunctionsIsToldInWords() throws IOException, InterruptedException {
        StubDriver.buildEmpty(folder.resolve("empty.so"));
        assertThat(listing("empty").problem())
                .contains("the OpenCL library lacks something that it should have", "clGetPlatformIDs");
        try (Attended load = new Attended("empty")) {
            assertThat(load.died()).contains("the OpenCL library lacks something that it should have");
        }
    }

    @ParameterizedTest
    @ValueSource(strings = {"hang-clBuildProgram", "hang-clEnqueueNDRangeKernel"})
    void aDriverThatHangsIsNeverReadyAndIsGoneWhenItsLoadIsTakenOff(String behaviour)
            throws IOException, InterruptedException {
        Attended load = new Attended(behaviour);
        load.until(() -> load.load.progress().ownNanos() > 1_000_000_000L);
        load.close();
        assertThat(ProcessHandle.of(load.load.pid()).filter(ProcessHandle::isAlive))
                .isEmpty();
        assertThat(load.facts).isEmpty();
    }
}

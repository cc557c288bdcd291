// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.gpu;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.agent.load.opencl.Compute;
import dev.loadwitness.agent.load.opencl.OpenCl;
import dev.loadwitness.agent.load.opencl.OpenClException;
import dev.loadwitness.agent.load.opencl.StubDriver;
import java.io.IOException;
import java.lang.management.ManagementFactory;
import java.nio.file.Path;
import java.util.List;
import org.junit.jupiter.api.AfterAll;
import org.junit.jupiter.api.BeforeAll;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/** On the real OpenCL of this machine, a processor device at least (package pocl-opencl-icd). */
final class EngineTest {
    private static Compute compute;
    private static Engine engine;

    @BeforeAll
    static void open() {
        compute = OpenCl.load().open("0:0");
        engine = new Engine(compute);
    }

    @AfterAll
    static void close() {
        engine.close();
        compute.close();
    }

    private static final Setting CORE = new Setting(false, 0, 1, 6);
    private static final Setting TRAFFIC = new Setting(true, 0, 1, 6);
    private static final Setting MIX = new Setting(true, 3, 1, 6);

    @Test
    void everyLaneOfEveryLaunchIsWhatTheProcessorComputes() {
        for (Setting setting : List.of(CORE, TRAFFIC, MIX)) {
            engine.use(setting);
            for (int steps : new int[] {1, 2, 127, 128, 129, 300}) {
                engine.launch(steps, false);
                engine.launch(steps + 1, false);
                for (int i = 0; i < 2; i++) {
                    Engine.Result result = engine.land();
                    assertThat(result.wrong())
                            .as("%s, %d steps", setting, steps)
                            .isEmpty();
                    assertThat(result.gigaFlop() > 0).isEqualTo(!setting.equals(TRAFFIC));
                    assertThat(result.gigabytes() > 0).isEqualTo(setting.traffic());
                    assertThat(result.span().nanos()).isPositive();
                }
            }
        }
    }

    @Test
    void trafficGoesOnFromLapToLap() {
        engine.use(TRAFFIC);
        long lap = (256L << 20) / (TRAFFIC.items() * 4L * 16);
        int steps = (int) (lap * 3 / 5);
        for (int i = 0; i < 4; i++) {
            engine.launch(steps, false);
            assertThat(engine.land().wrong()).isEmpty();
        }
    }

    @Test
    void aWorkGroupOfManyItemsAddsUpTheSame() {
        engine.use(new Setting(true, 2, 64, 3));
        engine.launch(5, false);
        assertThat(engine.land().wrong()).isEmpty();
    }

    @Test
    void aPlantedBitIsFoundByTheOrdinaryChecksAndIsGoneAfterwards() {
        for (Setting setting : List.of(CORE, TRAFFIC, MIX)) {
            engine.use(setting);
            engine.launch(200, true);
            Engine.Result planted = engine.land();
            assertThat(planted.planted()).isTrue();
            assertThat(planted.wrong()).as("%s", setting).isNotEmpty();
            if (setting.traffic()) {
                assertThat(planted.wrong()).contains("word 0: expected");
            } else {
                assertThat(planted.wrong()).contains("multiply-adds: expected sums");
            }
            engine.launch(200, false);
            assertThat(engine.land().wrong()).isEmpty();
        }
    }

    @Test
    void aWordThatChangesBetweenTwoLaunchesIsFoundAndNamed() {
        engine.use(TRAFFIC);
        engine.launch(10, false);
        assertThat(engine.land().isRight()).isTrue();
        engine.disturb(10 * 4 * 6 * 4 + 5, 0x80);
        engine.launch(10, false);
        assertThat(engine.land().wrong()).contains("memory traffic").contains("word " + (10 * 4 * 6 * 4 + 5) + ":");
    }

    /** What an earlier launch of the same size left behind must not pass for the result of one that did not run. */
    @Test
    void aDriverThatLeavesOutWorkAndSaysThatItIsDoneIsFound(@TempDir Path folder)
            throws IOException, InterruptedException {
        Path library = StubDriver.buildLazy(folder.resolve("lazy.so"));
        try (Compute lazy = StubDriver.load(library).open("0:0");
                Engine over = new Engine(lazy)) {
            over.use(CORE);
            for (int i = 0; i < 3; i++) {
                over.launch(200, false);
                assertThat(over.land().wrong()).isEmpty();
            }
            StubDriver.lazy(library);
            for (int i = 0; i < 3; i++) {
                over.launch(200, false);
                assertThat(over.land().wrong()).contains("multiply-adds: expected sums");
            }
        }
    }

    /** A driver's own wait may keep a core busy; ours must not. */
    @Test
    void waitingForTheDeviceTakesNextToNoTimeOfTheProcessor() {
        engine.use(CORE);
        engine.launch(64, false);
        engine.land();
        int steps = engine.stepsFor(50e6);
        long before = ManagementFactory.getThreadMXBean().getCurrentThreadCpuTime();
        long begin = System.nanoTime();
        for (int i = 0; i < 10; i++) {
            engine.launch(steps, false);
            assertThat(engine.land().isRight()).isTrue();
        }
        long used = ManagementFactory.getThreadMXBean().getCurrentThreadCpuTime() - before;
        assertThat(used / (double) (System.nanoTime() - begin)).isLessThan(0.3);
    }

    @Test
    void aProgramThatDoesNotCompileIsToldWithTheCompilersFirstLines() {
        assertThatThrownBy(() -> compute.build("kernel void broken() { undeclared = 1; }", ""))
                .isInstanceOfSatisfying(
                        OpenClException.class, e -> assertThat(e.kind()).isEqualTo(OpenClException.Kind.BUILD_FAILED))
                .hasMessageContaining("CL_BUILD_PROGRAM_FAILURE (-11)")
                .hasMessageContaining("undeclared");
    }

    @Test
    void moreMemoryThanThereIsIsToldAsSuch() {
        assertThatThrownBy(() -> compute.buffer(1L << 50))
                .isInstanceOfSatisfying(
                        OpenClException.class, e -> assertThat(e.kind()).isEqualTo(OpenClException.Kind.OUT_OF_MEMORY))
                .hasMessageContaining("MiB");
    }

    @Test
    void aDeviceThatIsNotThereIsToldAsSuch() {
        for (String key : new String[] {"0:9", "9:0"}) {
            assertThatThrownBy(() -> OpenCl.load().open(key))
                    .isInstanceOfSatisfying(
                            OpenClException.class,
                            e -> assertThat(e.kind()).isEqualTo(OpenClException.Kind.NO_SUCH_DEVICE));
        }
    }
}

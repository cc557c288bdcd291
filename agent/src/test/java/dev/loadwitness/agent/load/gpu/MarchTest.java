// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.gpu;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.agent.load.opencl.Compute;
import dev.loadwitness.agent.load.opencl.OpenCl;
import dev.loadwitness.agent.load.opencl.StubDriver;
import dev.loadwitness.agent.load.worker.Worker;
import java.io.IOException;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/** On the real OpenCL of this machine. */
final class MarchTest {
    private static final long BYTES = 24L << 20;

    /** Remembers what it is told. */
    private static final class Notebook implements Worker.Bench {
        final List<String> wrong = new ArrayList<>();
        long units;
        int plants;
        int caught;

        @Override
        public boolean goesOn() {
            return true;
        }

        @Override
        public void right(long more) {
            units += more;
        }

        @Override
        public void wrong(String detail) {
            wrong.add(detail);
        }

        @Override
        public boolean takePlant() {
            return plants-- > 0;
        }

        @Override
        public void plantCaught() {
            caught++;
        }

        @Override
        public Optional<Worker.Power> power() {
            return Optional.empty();
        }

        @Override
        public long beganNanos() {
            return 0;
        }

        @Override
        public void level(double level, double lateSeconds) {
            throw new AssertionError("a march has no levels");
        }

        @Override
        public void edges(double periodSeconds, double duty, double sinceSeconds, List<Long> edgesMicros) {
            throw new AssertionError("a march has no edges");
        }

        @Override
        public void tuned(String detail, boolean power, double value, boolean chosen) {
            throw new AssertionError("a march is not tuned");
        }

        @Override
        public void note(String text) {
            // Nobody watches.
        }

        @Override
        public void lost(String detail) {
            throw new AssertionError(detail);
        }
    }

    private static Notebook march(String source, int plants) {
        return march(OpenCl.load(), source, plants);
    }

    private static Notebook march(OpenCl openCl, String source, int plants) {
        Notebook notebook = new Notebook();
        notebook.plants = plants;
        try (Compute compute = openCl.open("0:0");
                Compute.Program program = compute.build(source, "-cl-std=CL1.2 -DWIDTH=1 -DTRAFFIC=1")) {
            assertThat(new March(compute, program, notebook).run(BYTES)).isEqualTo(BYTES);
        }
        return notebook;
    }

    @Test
    void soundMemoryPassesAndCountsEveryByteThatWasMoved() {
        Notebook notebook = march(Engine.source(), 0);
        assertThat(notebook.wrong).isEmpty();
        assertThat(notebook.units).isEqualTo((long) (BYTES * (7 * 10 + 2) / 1e9));
    }

    @Test
    void aPlantedBitIsFoundAndNotCounted() {
        Notebook notebook = march(Engine.source(), 1);
        assertThat(notebook.caught).isEqualTo(1);
        assertThat(notebook.wrong).isEmpty();
    }

    /** A cell that cannot become 1, one that the cell beside it pulls along, and two words on one address. */
    @Test
    void faultyCellsAreFound() {
        String stores = "memory[at] = (ulong2)(next, next);";
        String stuck =
                Engine.source().replace(stores, "memory[at] = (ulong2)(at == 4711u ? next & ~256ul : next, next);");
        assertThat(march(stuck, 0).wrong).isNotEmpty().allMatch(w -> w.contains("word 9422: wrote"));
        String coupled =
                Engine.source().replace(stores, stores + " if (at == 77u && next == ~0ul) memory[5000].y ^= 1ul;");
        assertThat(march(coupled, 0).wrong).isNotEmpty().allMatch(w -> w.contains("word 10001: wrote"));
        String shared = Engine.source()
                .replace(
                        "uint at = first + get_global_id(0);\n    ulong2",
                        "uint at = first + get_global_id(0);\n" + "    if (at == 900000u) at = 1000u;\n    ulong2")
                .replace("2ul * at", "2ul * (first + get_global_id(0))");
        assertThat(march(shared, 0).wrong).isNotEmpty().allMatch(w -> w.contains("its own place"));
    }

    /** Where nobody looked, nothing wrong was seen. */
    @Test
    void memoryThatTheDriverLeavesOutIsNoMemoryThatIsSound(@TempDir Path folder)
            throws IOException, InterruptedException {
        Path library = StubDriver.buildLazy(folder.resolve("lazy.so"));
        StubDriver.lazy(library);
        Notebook notebook = march(StubDriver.load(library), Engine.source(), 0);
        assertThat(notebook.wrong).isNotEmpty().allMatch(w -> w.contains("pieces of work"));
        assertThat(notebook.units).isZero();
    }
}

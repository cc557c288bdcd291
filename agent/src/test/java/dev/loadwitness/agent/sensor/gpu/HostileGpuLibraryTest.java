// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import static dev.loadwitness.agent.sensor.gpu.GpuSourceTest.read;
import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.agent.sensor.Discovery;
import dev.loadwitness.agent.sensor.GraphicsPart;
import dev.loadwitness.agent.sensor.Missing;
import dev.loadwitness.agent.sensor.SensorFact;
import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.agent.sensor.Wake;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Role;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import java.util.concurrent.TimeUnit;
import org.junit.jupiter.api.AfterEach;
import org.junit.jupiter.api.BeforeAll;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.Timeout;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.ValueSource;

/** A library, as real as in {@link GpuSourceTest}, that lies, prints, dies or writes where only the server should. */
@Timeout(300)
class HostileGpuLibraryTest {
    private static final GpuSource.Patience PATIENCE = new GpuSource.Patience(
            TimeUnit.SECONDS.toNanos(2), TimeUnit.SECONDS.toNanos(90), TimeUnit.MILLISECONDS.toNanos(1), 100);
    private static final GraphicsPart PART =
            new GraphicsPart("0000:01:00.0", "10de", Role.GPU_DISCRETE, GraphicsPart.Sleep.NEVER);
    private static final double USUAL_POWER = 95.25;

    @TempDir
    static Path folder;

    private static StubLibrary library;

    private final List<Source> open = new ArrayList<>();

    @BeforeAll
    static void buildLibrary() throws IOException, InterruptedException {
        library = new StubLibrary(folder);
    }

    @BeforeEach
    void behavesAsUsual() throws IOException {
        library.behaves();
        Files.deleteIfExists(folder.resolve("libnvidia-ml.so.1.calls"));
    }

    @AfterEach
    void closeAll() {
        open.forEach(Source::close);
    }

    private Discovery discover(StubLibrary of, GpuSource.Patience patience, GraphicsPart... parts) {
        Discovery found = GpuSensors.completing(
                new Discovery(List.of(), List.of()), List.of(parts), Wake.NEVER, of.file(), patience, System::nanoTime);
        open.addAll(found.sources());
        return found;
    }

    private Discovery discover(GraphicsPart... parts) {
        return discover(library, PATIENCE, parts);
    }

    private Source source() {
        return discover(PART).sources().get(0);
    }

    private static void assertThatItComesBack(Source source) throws InterruptedException {
        for (int i = 0; i < 1000; i++) {
            try {
                if (read(source).get("gpu-discrete.power") == USUAL_POWER) {
                    return;
                }
            } catch (IOException e) {
                // Not yet.
            }
            Thread.sleep(20);
        }
        throw new AssertionError("it never came back");
    }

    private static void assertThatItIsMissing(Discovery found, String why) {
        assertThat(found.sources()).isEmpty();
        assertThat(found.missing())
                .extracting(Missing::why)
                .singleElement()
                .asString()
                .contains(why);
    }

    @Test
    void whatTheLibraryPrintsIsThrownAwayAndItsReadingsGoOn() throws IOException {
        library.behaves(
                "print nvmlInit_v2 Hello\\nopened\\nbinary \\xFF\\xFE", "print nvmlDeviceGetPowerUsage values\\t1\\n");
        assertThat(read(source())).containsEntry("gpu-discrete.power", USUAL_POWER);
    }

    @Test
    void whatTheServerNeverSaysIsRefusedAndItsProcessReplaced() throws Exception {
        Source source = source();
        // Each process is asked to open and read once before; the third answer is the one that is forged.
        for (String said : List.of(
                "say nvmlDeviceGetClockInfo \\x00\\xFF\\x80",
                "say nvmlDeviceGetClockInfo failed\\t\\x1B[2J\\nend\\t3\\n",
                "say nvmlDeviceGetClockInfo values\\t1\\t2\\n",
                "say nvmlDeviceGetClockInfo values\\tNaN\\nend\\t3\\n",
                "say nvmlDeviceGetClockInfo end\\t1\\n",
                "flood nvmlDeviceGetClockInfo a line without end ",
                "flood nvmlDeviceGetClockInfo \\n")) {
            assertThatItComesBack(source);
            library.behaves(said);
            assertThatThrownBy(() -> read(source))
                    .as(said)
                    .isInstanceOf(IOException.class)
                    .hasMessageStartingWith("libnvidia-ml.so.1: its process said what it never says: '")
                    .satisfies(
                            e -> assertThat(e.getMessage()).hasSizeLessThan(200).matches("[^\\p{Cntrl}]*"));
            assertThat(source.takeFacts()).as(said).isEmpty();
            library.behaves();
        }
        assertThatItComesBack(source);
    }

    /** The answer that comes too late for its question would else be taken for the next one's, and so on for good. */
    @Test
    void noAnswerIsTakenForAnotherQuestions() throws Exception {
        Source source = source();
        String values = "values" + "\\t1".repeat(source.channels().size());
        library.behaves("say nvmlDeviceGetClockInfo " + values + "\\nend\\t2\\n");
        assertThat(read(source)).as("forged in all: believed, as any lie is").containsEntry("gpu-discrete.power", 1.0);
        library.behaves();
        assertThatThrownBy(() -> read(source)).hasMessageContaining("said what it never says");
        assertThatItComesBack(source);
    }

    @Test
    void aLibraryThatEndsItsProcessIsNamedWithTheStatus() throws Exception {
        Source source = source();
        for (String death : List.of("exit % 0", "_exit % 3", "abort %", "crash %")) {
            assertThatItComesBack(source);
            library.behaves(death.replace("%", "nvmlDeviceGetMemoryInfo"));
            double[] into = new double[source.channels().size()];
            assertThatThrownBy(() -> source.read(into, 0))
                    .as(death)
                    .isInstanceOf(IOException.class)
                    .hasMessageMatching("libnvidia-ml\\.so\\.1: its process ended with status (0|3|134|139)");
            assertThat(into).as(death).containsOnly(Double.NaN);
            library.behaves();
        }
        assertThatItComesBack(source);
    }

    @ParameterizedTest
    @ValueSource(
            strings = {
                "_exit nvmlInit_v2 0",
                "abort nvmlDeviceGetPowerUsage",
                "flood nvmlDeviceGetPowerUsage offer\\t",
                "say nvmlDeviceGetPowerUsage gpu\\n",
                "hang nvmlDeviceGetPowerUsage"
            })
    void discoveryEndsWithOneRowThatNamesTheLibrary(String behaviour) throws IOException {
        library.behaves(behaviour);
        boolean hangs = behaviour.startsWith("hang");
        GpuSource.Patience patience = new GpuSource.Patience(
                PATIENCE.hangNanos(), hangs ? TimeUnit.SECONDS.toNanos(1) : PATIENCE.openNanos(), 1, 1);
        Discovery found = discover(library, patience, PART);
        assertThatItIsMissing(found, library.file().toString());
        assertThatItIsMissing(
                found,
                hangs
                        ? "it did not open within its time"
                        : behaviour.contains("\\") ? "said what it never says" : "ended with status");
    }

    @Test
    void aLibraryThatHangsWhileItIsShutDownIsReplaced() throws Exception {
        Source source = source();
        library.behaves("generation 1", "hang nvmlShutdown");
        assertThatThrownBy(() -> read(source)).hasMessageContaining("no answer within 2000 ms; its process was ended");
        library.behaves();
        assertThatItComesBack(source);
    }

    @Test
    void aLibraryThatMustBeInitialisedAtEachReadingIsAFailureAndNotAnEndlessRowOfEvents() throws IOException {
        Source source = source();
        library.behaves("stale nvmlDeviceGetPowerUsage");
        read(source);
        for (int i = 0; i < GpuSource.MOST_RESTARTS_IN_A_ROW; i++) {
            read(source);
        }
        assertThatThrownBy(() -> read(source)).hasMessageContaining("initialised again at each of 3 readings in a row");
        assertThat(source.takeFacts()).hasSize(GpuSource.MOST_RESTARTS_IN_A_ROW);
    }

    @Test
    void eventsThatNobodyTakesAreCountedAndNotKept() throws IOException {
        Source source = source();
        library.behaves("energy-falls 1");
        for (int i = 0; i < GpuSource.MOST_FACTS + 10; i++) { // the first has nothing to fall from
            read(source);
        }
        List<SensorFact> facts = source.takeFacts();
        assertThat(facts).hasSize(GpuSource.MOST_FACTS + 1);
        assertThat(((SensorFact.Noticed) facts.get(GpuSource.MOST_FACTS))
                        .facts()
                        .get("detail"))
                .asString()
                .startsWith("9 more events");
        read(source);
        assertThat(source.takeFacts()).hasSize(1);
    }

    @ParameterizedTest
    @ValueSource(strings = {"17", "4294967295"})
    void aCountOfGpusThatNoMachineHasIsRefused(String count) throws IOException {
        library.behaves("count " + count);
        assertThatItIsMissing(discover(), "it counts " + count + " GPUs, more than 16");
    }

    @Test
    void aLibraryThatCannotCountItsGpusSaysWhy() throws IOException {
        library.behaves("nvmlDeviceGetCount_v2 999");
        assertThatItIsMissing(discover(), "counting the GPUs: unknown error (999)");
    }

    @Test
    void gpusOfTheSameAddressAreToldApartByTheirNumber() throws IOException {
        library.behaves("count 3");
        Discovery found = discover();
        assertThat(found.channels())
                .extracting(Channel::component)
                .contains("0000:01:00.0", "gpu1", "gpu2")
                .doesNotContain("");
        assertThat(found.channels()).extracting(Channel::id).doesNotHaveDuplicates();
        assertThat(read(found.sources().get(0)))
                .containsEntry("gpu-discrete.power", USUAL_POWER)
                .containsEntry("gpu-discrete-2.power", USUAL_POWER)
                .containsEntry("gpu-discrete-3.power", USUAL_POWER);
    }

    @ParameterizedTest
    @ValueSource(strings = {"a\\tb\\nopened\\n\\x1B]0;\\xFF", "0000:01:00.00000000000000000000000000000"})
    void whatIsNoAddressIsNotTakenForOne(String told) throws IOException {
        library.behaves("pci " + told, "driver \\xE2\\x80\\n\\t580");
        assertThat(discover().channels()).extracting(Channel::component).containsOnly("gpu0");
    }

    @Test
    void countsInsideOfAPartCostNothingHoweverLargeTheyAre() throws IOException {
        for (String claimed : List.of("2147483647", "4294967295")) {
            library.behaves("samples-claimed " + claimed, "samples-given " + claimed, "retired " + claimed);
            Source source = source();
            assertThat(read(source)).as(claimed).containsEntry("gpu-discrete.power", USUAL_POWER);
            source.close();
        }
    }

    @Test
    void noReadingIsEverInfinite() throws IOException {
        Source source = source();
        for (String kind : List.of("0x7ff0000000000000", "0xfff0000000000000", "0x7ff8000000000001")) {
            library.behaves(
                    "type186 0",
                    "field186 " + kind,
                    "temperature 0xFFFFFFFF",
                    "power 0xFFFFFFFF",
                    "clock 0xFFFFFFFF",
                    "energy 0xFFFFFFFFFFFFFFFF",
                    "violation1 0x8000000000000000",
                    "pstate -2147483648",
                    "sample-high 0xFFFFFFFF");
            Map<String, Double> values = read(source);
            assertThat(values)
                    .as(kind)
                    .containsEntry("gpu-discrete.power.instant", Double.NaN)
                    .containsEntry("gpu-discrete.power", 4294967.295)
                    .containsEntry("gpu-discrete.energy", 0x1p64 * 1e-3);
            assertThat(values.values()).as(kind).noneMatch(v -> Double.isInfinite(v));
        }
    }

    @Test
    void successWithoutADeviceIsNoDevice() throws IOException {
        library.behaves("handle 0");
        assertThatItIsMissing(discover(PART), "success, but it gave no device");
    }

    @Test
    void codesThatNobodyKnowsAreToldAsTheyCame() throws IOException {
        library.behaves("all -7");
        assertThatItIsMissing(discover(PART), "unlisted (-7)");
    }

    @Test
    void aFunctionThatIsMissingCostsItsOwnReadingOnly(@TempDir Path other) throws Exception {
        Discovery without = discover(new StubLibrary(other, "nvmlDeviceGetPowerUsage"), PATIENCE, PART);
        assertThat(without.channels())
                .extracting(Channel::id)
                .contains("gpu-discrete.core.temperature")
                .doesNotContain("gpu-discrete.power");
        assertThat(without.missing()).anySatisfy(m -> {
            assertThat(m.what()).endsWith(": power");
            assertThat(m.why()).contains("function not found (13)");
        });
        Files.delete(other.resolve("libnvidia-ml.so.1"));
        assertThatItIsMissing(
                discover(new StubLibrary(other, "nvmlInit_v2"), PATIENCE, PART),
                "initialisation: function not found (13)");
    }
}

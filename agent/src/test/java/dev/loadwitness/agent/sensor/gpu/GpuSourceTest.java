// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;
import static org.assertj.core.api.Assertions.within;

import dev.loadwitness.agent.sensor.Discovery;
import dev.loadwitness.agent.sensor.GraphicsPart;
import dev.loadwitness.agent.sensor.Missing;
import dev.loadwitness.agent.sensor.Readings;
import dev.loadwitness.agent.sensor.SensorBank;
import dev.loadwitness.agent.sensor.SensorFact;
import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.agent.sensor.Wake;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.io.IOException;
import java.nio.file.Path;
import java.time.Duration;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.concurrent.TimeUnit;
import org.junit.jupiter.api.AfterEach;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.Timeout;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

/**
 * A real process that loads a real library whose behaviour is set; the library is a stub. Return codes, reason bits,
 * policies and units: {@code nvml.h}, API version 13, as in the check values, section G.1.
 */
@Timeout(120)
class GpuSourceTest {
    private static final GpuSource.Patience SHORT = new GpuSource.Patience(
            TimeUnit.MILLISECONDS.toNanos(700), TimeUnit.SECONDS.toNanos(20), TimeUnit.MILLISECONDS.toNanos(100), 3);
    private static final String ADDRESS = "0000:01:00.0";

    @TempDir
    Path folder;

    private StubLibrary library;
    private final Bed bed = new Bed();
    private final List<Source> open = new ArrayList<>();

    /** What the kernel says of the part's sleep, as the test sets it. */
    private static final class Bed implements GraphicsPart.Sleep {
        private volatile boolean asleep;
        private volatile boolean sleeper;

        @Override
        public boolean isAsleep() {
            return asleep;
        }

        @Override
        public boolean isDisturbedByAsking() {
            return asleep || sleeper;
        }
    }

    @BeforeEach
    void buildLibrary() throws IOException, InterruptedException {
        library = new StubLibrary(folder);
    }

    @AfterEach
    void closeAll() {
        open.forEach(Source::close);
    }

    private Discovery discover(Wake wake) {
        return discover(wake, new Discovery(List.of(), List.of()));
    }

    private Discovery discover(Wake wake, Discovery before) {
        GraphicsPart part = new GraphicsPart(ADDRESS, "10de", Role.GPU_DISCRETE, bed);
        Discovery found = GpuSensors.completing(before, List.of(part), wake, library.file(), SHORT, System::nanoTime);
        open.addAll(found.sources());
        return found;
    }

    private Source source() {
        return discover(Wake.NEVER).sources().get(0);
    }

    /** By channel. */
    static Map<String, Double> read(Source source) throws IOException {
        double[] into = new double[source.channels().size()];
        source.read(into, 0);
        Map<String, Double> values = new LinkedHashMap<>();
        for (int i = 0; i < into.length; i++) {
            values.put(source.channels().get(i).id(), into[i]);
        }
        return values;
    }

    /** Reads until the source as a whole answers. */
    private static Map<String, Double> readWhenBack(Source source) throws InterruptedException {
        for (int i = 0; i < 400; i++) {
            try {
                Map<String, Double> values = read(source);
                if (values.values().stream().anyMatch(v -> !Double.isNaN(v))) {
                    return values;
                }
            } catch (IOException e) {
                // Not yet.
            }
            Thread.sleep(50);
        }
        throw new AssertionError("it never came back");
    }

    private static Channel channel(Discovery found, String id) {
        return found.channels().stream()
                .filter(c -> c.id().equals(id))
                .findFirst()
                .orElseThrow(() -> new AssertionError("no " + id + " among "
                        + found.channels().stream().map(Channel::id).toList()));
    }

    private static List<SensorFact.Noticed> noticed(Source source) {
        return source.takeFacts().stream().map(SensorFact.Noticed.class::cast).toList();
    }

    @Test
    void theLibrarysUnitsBecomeTheMetricsUnits() throws IOException {
        Map<String, Double> values = read(source());
        assertThat(values)
                .containsEntry("gpu-discrete.core.temperature", 71.0)
                .containsEntry("gpu-discrete.power", 95.25) // milliwatts
                .containsEntry("gpu-discrete.power.instant", 101.5)
                .containsEntry("gpu-discrete.power.limit", 140.0)
                .containsEntry("gpu-discrete.clock", 1980e6) // megahertz
                .containsEntry("gpu-discrete.memory.clock", 7001e6)
                .containsEntry("gpu-discrete.utilization", 0.99) // percent
                .containsEntry("gpu-discrete.memory.usage", 2.0 * (1L << 30))
                .containsEntry("gpu-discrete.performance-state", 0.0);
        assertThat(values.get("gpu-discrete.energy")).isCloseTo(123456.789, within(1e-6)); // millijoules
    }

    @Test
    void whatChangesSlowlyIsReadOnceASecond() throws IOException, InterruptedException {
        Source source = source();
        Map<String, Double> first = read(source);
        assertThat(first)
                .containsEntry("gpu-discrete.pcie.generation", 4.0)
                .containsEntry("gpu-discrete.pcie.width", 8.0)
                .containsEntry("gpu-discrete.pcie.replays", 3.0)
                .containsEntry("gpu-discrete.memory.rows.uncorrected", 2.0)
                .containsEntry("gpu-discrete.memory.pages.uncorrected", 5.0);
        assertThat(read(source))
                .as("never the last value again")
                .containsEntry("gpu-discrete.pcie.replays", Double.NaN)
                .containsEntry("gpu-discrete.power", 95.25);
        Thread.sleep(1000);
        assertThat(read(source)).containsEntry("gpu-discrete.pcie.replays", 3.0);
    }

    @Test
    void thePartsOwnLimitsAndAddressStandInTheChannels() {
        Discovery found = discover(Wake.NEVER);
        Channel core = channel(found, "gpu-discrete.core.temperature");
        assertThat(core.component()).isEqualTo(ADDRESS);
        assertThat(core.role()).isEqualTo(Role.GPU_DISCRETE);
        assertThat(core.source()).isEqualTo("nvml");
        assertThat(core.limits())
                .containsOnly(
                        Map.entry(LimitType.THROTTLED, 89.0),
                        Map.entry(LimitType.HIGH_CRITICAL, 95.0),
                        Map.entry(LimitType.MAX, 87.0));
        assertThat(channel(found, "gpu-discrete.power.limit").limits())
                .containsOnly(Map.entry(LimitType.MAX, 150.0), Map.entry(LimitType.HIGH_DEGRADED, 115.0));
        assertThat(channel(found, "gpu-discrete.clock").limits()).containsOnly(Map.entry(LimitType.MAX, 2100e6));
        assertThat(channel(found, "gpu-discrete.energy").metric()).isEqualTo(Metric.ENERGY);
    }

    @ParameterizedTest(name = "{0}")
    @CsvSource({
        // mask, heat, power brake, bare hardware slowdown, power cap
        "0x000, 0, 0, 0, 0",
        "0x001, 0, 0, 0, 0", // GpuIdle
        "0x002, 0, 0, 0, 0", // ApplicationsClocksSetting
        "0x004, 0, 0, 0, 1", // SwPowerCap
        "0x008, 0, 0, 1, 0", // HwSlowdown alone
        "0x010, 0, 0, 0, 0", // SyncBoost
        "0x020, 1, 0, 0, 0", // SwThermalSlowdown
        "0x048, 1, 0, 0, 0", // HwSlowdown with HwThermalSlowdown
        "0x088, 0, 1, 0, 0", // HwSlowdown with HwPowerBrakeSlowdown
        "0x100, 0, 0, 0, 0", // DisplayClockSetting
        "0x1FF, 1, 1, 0, 1"
    })
    void everyReasonBitIsTranslated(String mask, double heat, double brake, double bare, double cap)
            throws IOException {
        Source source = source();
        library.behaves("reasons " + mask);
        assertThat(read(source))
                .containsEntry("gpu-discrete.throttle.heat.active", heat)
                .containsEntry("gpu-discrete.throttle.power-brake.active", brake)
                .containsEntry("gpu-discrete.throttle.hardware-slowdown.active", bare)
                .containsEntry("gpu-discrete.throttle.power-cap.active", cap);
    }

    @Test
    void reasonThatThePartDoesNotKnowIsNotAZero() throws IOException {
        library.behaves("supported 0x25");
        Discovery found = discover(Wake.NEVER);
        assertThat(found.channels())
                .extracting(Channel::id)
                .contains("gpu-discrete.throttle.heat.active", "gpu-discrete.throttle.power-cap.active")
                .doesNotContain(
                        "gpu-discrete.throttle.power-brake.active", "gpu-discrete.throttle.hardware-slowdown.active");
        assertThat(found.missing())
                .extracting(Missing::what)
                .anySatisfy(what -> assertThat(what).contains("throttle.power-brake.active"));
    }

    @Test
    void timesUnderAPolicyAreNanosecondsThere() throws IOException {
        library.behaves("violation0 9000000000", "violation1 2500000000", "field252 1500000000", "field253 250000000");
        Discovery found = discover(Wake.NEVER);
        assertThat(read(found.sources().get(0)))
                .containsEntry("gpu-discrete.throttle.power-cap.time", 9.0)
                .containsEntry("gpu-discrete.throttle.heat.time", 2.5)
                .containsEntry("gpu-discrete.throttle.heat.hardware-time", 1.5)
                .containsEntry("gpu-discrete.throttle.power-brake.time", 0.25);
        assertThat(channel(found, "gpu-discrete.throttle.heat.time").cause()).contains(Cause.HEAT);
        assertThat(channel(found, "gpu-discrete.throttle.power-brake.time").cause())
                .contains(Cause.POWER_BRAKE);
    }

    @Test
    void fieldsThatMeantSomethingElseInOlderDriversAreNotAsked() {
        behaves("driver 570.86.10", "field252 1500000000", "field253 250000000");
        assertThat(discover(Wake.NEVER).channels())
                .extracting(Channel::id)
                .doesNotContain("gpu-discrete.throttle.power-brake.time", "gpu-discrete.throttle.heat.hardware-time");
    }

    private void behaves(String... lines) {
        try {
            library.behaves(lines);
        } catch (IOException e) {
            throw new AssertionError(e);
        }
    }

    @Test
    void unsupportedIsNoChannelAndSaysSo() throws IOException {
        library.behaves("nvmlDeviceGetTotalEnergyConsumption 3", "nvmlDeviceGetPowerUsage 4");
        Discovery found = discover(Wake.NEVER);
        assertThat(found.channels())
                .extracting(Channel::id)
                .doesNotContain("gpu-discrete.energy", "gpu-discrete.power", "gpu-discrete.fan.speed-ratio");
        assertThat(found.missing())
                .anySatisfy(m -> {
                    assertThat(m.what()).contains("energy").contains("fan.speed-ratio");
                    assertThat(m.why()).contains("not supported (3)");
                })
                .anySatisfy(m -> {
                    assertThat(m.what()).endsWith(": power");
                    assertThat(m.why()).contains("no permission (4)");
                    assertThat(m.whatToDo()).contains("root");
                });
    }

    @Test
    void oneQuestionThatFailsLaterIsNullAndTheOthersGoOn() throws IOException {
        Source source = source();
        library.behaves("nvmlDeviceGetTemperature 999");
        assertThat(read(source))
                .containsEntry("gpu-discrete.core.temperature", Double.NaN)
                .containsEntry("gpu-discrete.power", 95.25);
        assertThat(source.takeFacts()).isEmpty();
    }

    @Test
    void theDriversSamplesShowWhatHappenedBetweenTwoReadings() throws IOException {
        Source source = source();
        library.behaves("samples-until 1500000", "sample-high 149000", "sample-low 30000");
        assertThat(read(source))
                .containsEntry("gpu-discrete.power.highest", 149.0)
                .containsEntry("gpu-discrete.power.lowest", 30.0);
        assertThat(read(source))
                .as("no new sample since: nothing to say, and no failure")
                .containsEntry("gpu-discrete.power.highest", Double.NaN)
                .containsEntry("gpu-discrete.power", 95.25);
    }

    @Test
    void lostGpuIsOneEventAndNoReadings() throws IOException {
        Source source = source();
        read(source);
        library.behaves("all 15");
        assertThat(read(source).values()).allMatch(v -> Double.isNaN(v));
        read(source);
        assertThat(noticed(source)).singleElement().satisfies(f -> {
            assertThat(f.kind()).isEqualTo(EventKind.DEVICE_LOST);
            assertThat(f.facts())
                    .containsOnly(
                            Map.entry("role", "gpu-discrete"),
                            Map.entry("device", ADDRESS),
                            Map.entry("detail", "GPU is lost (15)"));
        });
        library.behaves("");
        assertThat(read(source)).containsEntry("gpu-discrete.core.temperature", 71.0);
        assertThat(noticed(source)).extracting(SensorFact.Noticed::kind).containsExactly(EventKind.DRIVER_RESET);
    }

    @Test
    void gpuThatNeedsAResetIsToldApartFromALostOne() throws IOException {
        Source source = source();
        library.behaves("nvmlDeviceGetPowerUsage 16");
        assertThat(read(source).values()).allMatch(v -> Double.isNaN(v));
        assertThat(noticed(source))
                .singleElement()
                .satisfies(f -> assertThat(f.facts()).containsEntry("detail", "reset required (16)"));
    }

    @Test
    void driverThatGoesAndComesBackIsAnEvent() throws IOException {
        Source source = source();
        library.behaves("generation 1", "nvmlInit_v2 9");
        for (int i = 0; i < 2; i++) {
            assertThatThrownBy(() -> read(source))
                    .isInstanceOf(IOException.class)
                    .hasMessageContaining("driver not loaded (9)");
        }
        assertThat(source.takeFacts()).isEmpty();
        library.behaves("generation 1");
        assertThat(read(source)).containsEntry("gpu-discrete.power", 95.25);
        assertThat(noticed(source)).singleElement().satisfies(f -> {
            assertThat(f.kind()).isEqualTo(EventKind.DRIVER_RESET);
            assertThat(f.facts()).containsEntry("device", ADDRESS);
        });
    }

    @Test
    void energyThatFallsIsADriverRestart() throws IOException {
        Source source = source();
        library.behaves("energy 500000");
        read(source);
        library.behaves("energy 500100");
        read(source);
        assertThat(source.takeFacts()).isEmpty();
        library.behaves("energy 100");
        assertThat(read(source)).containsEntry("gpu-discrete.energy", 0.1);
        assertThat(noticed(source)).singleElement().satisfies(f -> {
            assertThat(f.kind()).isEqualTo(EventKind.DRIVER_RESET);
            assertThat(f.facts().get("detail")).asString().contains("500.1 J").contains("0.1 J");
        });
    }

    @Test
    void libraryThatHangsCostsOnlyItsOwnChannelsAndIsAskedAgainByANewProcess() throws Exception {
        Source gpu = source();
        Source other = new Constant();
        try (SensorBank bank = new SensorBank(List.of(other, gpu), Duration.ofMillis(300))) {
            int power = 1 + gpu.channels().stream().map(Channel::id).toList().indexOf("gpu-discrete.power");
            assertThat(bank.take(0).values()[power]).isEqualTo(95.25);

            library.behaves("hang nvmlDeviceGetPowerUsage");
            Readings hung = bank.take(1);
            assertThat(hung.values()[0]).as("the other source").isEqualTo(40);
            assertThat(hung.values()[power]).isNaN();
            assertThat(hung.facts()).singleElement().isInstanceOf(SensorFact.SourceSilent.class);

            library.behaves("");
            boolean back = false;
            for (int i = 0; i < 200 && !back; i++) {
                Thread.sleep(50);
                Readings next = bank.take(2 + i);
                assertThat(next.values()[0]).isEqualTo(40);
                back = next.facts().stream().anyMatch(SensorFact.SourceBack.class::isInstance);
                if (back) {
                    assertThat(next.values()[power]).isEqualTo(95.25);
                }
            }
            assertThat(back).isTrue();
            assertThat(library.calls()).as("each process initialises once").containsExactly("init", "init");
        }
    }

    @Test
    void crashOfTheLibraryIsAFailureOfTheSourceAndANewProcessGoesOn() throws Exception {
        Source source = source();
        library.behaves("crash nvmlDeviceGetClockInfo");
        assertThatThrownBy(() -> read(source))
                .isInstanceOf(IOException.class)
                .hasMessageContaining("its process ended with status");
        library.behaves("");
        assertThat(readWhenBack(source)).containsEntry("gpu-discrete.power", 95.25);
    }

    @Test
    void libraryThatAlwaysCrashesIsGivenUp() throws Exception {
        Source source = source();
        library.behaves("crash nvmlDeviceGetClockInfo");
        String last = "";
        for (int i = 0; i < 300 && !last.contains("given up"); i++) {
            try {
                read(source);
            } catch (IOException e) {
                last = e.getMessage();
            }
            Thread.sleep(20);
        }
        assertThat(last).contains("given up after 4 failures");
        int inits = library.calls().size();
        Thread.sleep(500);
        assertThatThrownBy(() -> read(source)).isInstanceOf(IOException.class);
        assertThat(library.calls()).hasSize(inits);
    }

    @Test
    void libraryThatCrashesWhenItIsOpenedIsMissing() throws IOException {
        library.behaves("crash nvmlInit_v2");
        Discovery found = discover(Wake.NEVER);
        assertThat(found.sources()).isEmpty();
        assertThat(found.missing())
                .singleElement()
                .satisfies(m -> assertThat(m.why()).contains("its process ended with status"));
    }

    @Test
    void libraryWithoutItsDriverIsMissingWithTheReason() throws IOException {
        library.behaves("nvmlInit_v2 9");
        Discovery found = discover(Wake.NEVER);
        assertThat(found.sources()).isEmpty();
        assertThat(found.missing())
                .singleElement()
                .satisfies(m -> assertThat(m.why()).contains("driver not loaded (9)"));
    }

    @Test
    void sleepingGpuIsNeitherAskedNorIsTheLibraryInitialised() throws IOException {
        bed.asleep = true;
        for (Wake wake : List.of(Wake.NEVER, Wake.IF_AWAKE)) {
            Discovery found = discover(wake);
            assertThat(found.sources()).isEmpty();
            assertThat(found.missing()).singleElement().satisfies(m -> {
                assertThat(m.why()).contains("asleep");
                assertThat(m.whatToDo()).contains("--wake");
            });
        }
        assertThat(library.calls()).isEmpty();
    }

    @Test
    void onlyAllowanceOpensASleepingGpuAndItsSilenceIsNoFailure() throws Exception {
        bed.asleep = true;
        Source source = discover(Wake.WHEN_ALLOWED).sources().get(0);
        assertThat(library.calls()).as("woken once, to learn what it offers").containsExactly("init");
        try (SensorBank bank = new SensorBank(List.of(source), Duration.ofMillis(400))) {
            for (int i = 0; i < 3; i++) {
                Readings idle = bank.take(i);
                assertThat(idle.values()).containsOnly(Double.NaN);
                assertThat(idle.facts()).isEmpty();
            }
            assertThat(library.calls()).containsExactly("init");

            bank.allowWaking(true);
            boolean answered = false;
            for (int i = 0; i < 200 && !answered; i++) {
                Readings loaded = bank.take(10 + i);
                assertThat(loaded.facts()).as("opening is no failure").isEmpty();
                answered = loaded.values()[0] == 71;
                Thread.sleep(20);
            }
            assertThat(answered).isTrue();
            assertThat(library.calls()).containsExactly("init", "init");

            bank.allowWaking(false);
            Readings idle = bank.take(1000);
            assertThat(idle.values()).containsOnly(Double.NaN);
            assertThat(idle.facts()).isEmpty();
        }
    }

    @Test
    void gpuThatNeverSleepsIsAskedWithoutAllowance() throws IOException {
        Source source = source();
        source.allowWaking(false);
        assertThat(read(source)).containsEntry("gpu-discrete.core.temperature", 71.0);
    }

    @Test
    void observedGpuThatIsAwakeIsAskedThroughout() throws IOException {
        bed.sleeper = true;
        assertThat(discover(Wake.NEVER).sources()).isEmpty();
        Source source = discover(Wake.IF_AWAKE).sources().get(0);
        source.allowWaking(false);
        assertThat(read(source)).containsEntry("gpu-discrete.core.temperature", 71.0);
    }

    @Test
    void secondGpuOfTheSameRoleGetsANumberOfItsOwn() {
        Discovery before = new Discovery(List.of(new Constant()), List.of());
        assertThat(discover(Wake.NEVER, before).channels())
                .extracting(Channel::id)
                .contains("gpu-discrete.edge.temperature", "gpu-discrete-2.core.temperature");
    }

    @Test
    void serverEndsWithItsParent() throws Exception {
        ServerProcess server = ServerProcess.start(library.file());
        server.ask("open");
        assertThat(server.await(TimeUnit.SECONDS.toNanos(20))).isNotEmpty();
        ProcessHandle process = ProcessHandle.of(server.pid()).orElseThrow();
        server.fallSilent();
        assertThat(process.onExit().get(15, TimeUnit.SECONDS).isAlive()).isFalse();
    }

    /** Another GPU's chip. */
    private static final class Constant implements Source {
        @Override
        public String name() {
            return "constant";
        }

        @Override
        public List<Channel> channels() {
            return List.of(
                    Channel.of("gpu-discrete.edge.temperature", Metric.TEMPERATURE, Role.GPU_DISCRETE, "constant")
                            .withComponent("pci0000:00/0000:03:00.0", "edge"));
        }

        @Override
        public void read(double[] into, int from) {
            into[from] = 40;
        }

        @Override
        public void close() {
            // Nothing is open.
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import com.sun.jna.Pointer;
import java.io.FileDescriptor;
import java.io.FileOutputStream;
import java.io.IOException;
import java.io.PrintStream;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Optional;
import java.util.TreeMap;

/**
 * Asks the library for all that the agent asks for and more, in this process, and prints every raw value with its return
 * code, and what each function costs. For looking at a new part or driver; wakes a sleeping GPU.
 *
 * <p>{@code java -cp loadwitness-agent.jar dev.loadwitness.agent.sensor.gpu.GpuSurvey [ROUNDS]}, 200 rounds by default.
 */
public final class GpuSurvey {
    private static final int USUAL_ROUNDS = 200;
    private static final long PAUSE_MILLIS = 10;
    private static final String[] SAMPLE_KINDS = {
        "total power", "GPU utilization", "memory utilization", "encoder", "decoder", "processor clock", "memory clock"
    };
    private static final String[] CLOCKS = {"graphics", "SM", "memory", "video"};
    private static final String[] THRESHOLDS = {
        "shutdown", "slowdown", "memory max", "GPU max", "acoustic min", "acoustic current", "acoustic max"
    };
    private static final int[] POLICIES = {0, 1, 2, 3, 4, 5, 10, 11};
    private static final String[] POLICY_NAMES = {
        "power", "thermal", "sync boost", "board limit", "low utilization", "reliability", "total app", "total base"
    };
    /** 74 to 81 as the policies; 251 to 273 because what stands where depends on the driver. */
    private static final int[] FIELDS = {
        74, 75, 76, 77, 78, 79, 80, 81, 82, 83, 94, 95, 142, 143, 144, 145, 169, 173, 174, 175, 176, 177, 178, 179, 180,
        182, 185, 186, 187, 188, 189, 190, 191, 192, 193, 194, 195, 196, 230, 251, 252, 253, 254, 255, 256, 257, 269,
        270, 271, 272, 273
    };

    private final Nvml nvml;
    private final PrintStream out;
    private final Map<String, List<Long>> nanos = new TreeMap<>();
    private final Map<String, Map<Integer, Integer>> codes = new TreeMap<>();

    private GpuSurvey(Path library, PrintStream out) throws IOException {
        this.out = out;
        nvml = new Nvml(library, this::called);
    }

    public static void main(String[] args) throws IOException, InterruptedException {
        Locale.setDefault(Locale.ROOT);
        PrintStream out = new PrintStream(new FileOutputStream(FileDescriptor.out), true, StandardCharsets.UTF_8);
        Optional<Path> library = LibraryLocation.find();
        if (library.isEmpty()) {
            out.println("no library at " + LibraryLocation.CANDIDATES);
            System.exit(69);
        }
        System.exit(run(library.get(), args.length == 0 ? USUAL_ROUNDS : Integer.parseInt(args[0]), out));
    }

    /** Gives 0, or 69 if the library does not open. */
    static int run(Path library, int rounds, PrintStream out) throws IOException, InterruptedException {
        GpuSurvey survey = new GpuSurvey(library, out);
        out.println("library " + library);
        int code = survey.nvml.init();
        if (code != Code.SUCCESS) {
            out.println("initialisation: " + Code.text(code));
            return 69;
        }
        String driver = survey.nvml.driverVersion();
        Answer count = survey.nvml.count();
        out.println("driver " + driver + ", GPUs " + survey.text(count));
        for (int i = 0; count.isThere() && i < Math.min(count.value(), Nvml.MOST_GPUS); i++) {
            Nvml.Device device = survey.nvml.byIndex(i);
            if (device.code() != Code.SUCCESS) {
                out.println("GPU " + i + ": " + Code.text(device.code()));
                continue;
            }
            survey.raw(device.handle());
            survey.rounds(device.handle(), driver, rounds);
        }
        survey.costs();
        survey.nvml.shutdown();
        return 0;
    }

    private void called(String function, long taken, int code) {
        nanos.computeIfAbsent(function, f -> new ArrayList<>()).add(taken);
        codes.computeIfAbsent(function, f -> new TreeMap<>()).merge(code, 1, Integer::sum);
    }

    private void say(String what, Answer answer) {
        out.printf(Locale.ROOT, "  %-58s %s%n", what, text(answer));
    }

    private String text(Answer answer) {
        if (!answer.isThere()) {
            return Code.text(answer.code());
        }
        return answer.value() == Math.rint(answer.value()) && Math.abs(answer.value()) < 1e18
                ? String.format(Locale.ROOT, "%.0f", answer.value())
                : Double.toString(answer.value());
    }

    private void raw(Pointer device) {
        out.println();
        out.println("GPU " + nvml.address(device) + " " + nvml.name(device));
        out.println("Raw values, in the library's own units");
        say("nvmlDeviceGetTemperature(GPU) Cel", nvml.uint("nvmlDeviceGetTemperature", device, 0));
        for (int i = 0; i < THRESHOLDS.length; i++) {
            say(
                    "nvmlDeviceGetTemperatureThreshold(" + THRESHOLDS[i] + ") Cel",
                    nvml.uint("nvmlDeviceGetTemperatureThreshold", device, i));
        }
        for (String function : List.of(
                "nvmlDeviceGetPowerUsage",
                "nvmlDeviceGetEnforcedPowerLimit",
                "nvmlDeviceGetPowerManagementLimit",
                "nvmlDeviceGetPowerManagementDefaultLimit")) {
            say(function + " mW", nvml.uint(function, device));
        }
        Answer[] constraints = nvml.uints("nvmlDeviceGetPowerManagementLimitConstraints", 2, device);
        say("nvmlDeviceGetPowerManagementLimitConstraints(min) mW", constraints[0]);
        say("nvmlDeviceGetPowerManagementLimitConstraints(max) mW", constraints[1]);
        say("nvmlDeviceGetTotalEnergyConsumption mJ", nvml.ulong("nvmlDeviceGetTotalEnergyConsumption", device));
        for (int i = 0; i < CLOCKS.length; i++) {
            say("nvmlDeviceGetClockInfo(" + CLOCKS[i] + ") MHz", nvml.uint("nvmlDeviceGetClockInfo", device, i));
            say("nvmlDeviceGetMaxClockInfo(" + CLOCKS[i] + ") MHz", nvml.uint("nvmlDeviceGetMaxClockInfo", device, i));
        }
        for (String function : List.of(
                "nvmlDeviceGetCurrentClocksEventReasons",
                "nvmlDeviceGetCurrentClocksThrottleReasons",
                "nvmlDeviceGetSupportedClocksEventReasons",
                "nvmlDeviceGetSupportedClocksThrottleReasons")) {
            Answer mask = nvml.ulong(function, device);
            out.printf(
                    Locale.ROOT,
                    "  %-58s %s%n",
                    function,
                    mask.isThere() ? "0x" + Long.toHexString((long) mask.value()) : Code.text(mask.code()));
        }
        for (int i = 0; i < POLICIES.length; i++) {
            Answer[] times =
                    nvml.structure("nvmlDeviceGetViolationStatus", Long.BYTES, new int[] {0, 1}, device, POLICIES[i]);
            say("nvmlDeviceGetViolationStatus(" + POLICY_NAMES[i] + ") reference", times[0]);
            say("nvmlDeviceGetViolationStatus(" + POLICY_NAMES[i] + ") violation", times[1]);
        }
        fields(device);
        Answer[] use = nvml.structure("nvmlDeviceGetUtilizationRates", Integer.BYTES, new int[] {0, 1}, device);
        say("nvmlDeviceGetUtilizationRates(gpu) %", use[0]);
        say("nvmlDeviceGetUtilizationRates(memory) %", use[1]);
        Answer[] memory = nvml.structure("nvmlDeviceGetMemoryInfo", Long.BYTES, new int[] {0, 1, 2}, device);
        say("nvmlDeviceGetMemoryInfo(total) By", memory[0]);
        say("nvmlDeviceGetMemoryInfo(used) By", memory[2]);
        for (String function : List.of(
                "nvmlDeviceGetPerformanceState",
                "nvmlDeviceGetFanSpeed",
                "nvmlDeviceGetCurrPcieLinkGeneration",
                "nvmlDeviceGetMaxPcieLinkGeneration",
                "nvmlDeviceGetCurrPcieLinkWidth",
                "nvmlDeviceGetMaxPcieLinkWidth",
                "nvmlDeviceGetPcieReplayCounter")) {
            say(function, nvml.uint(function, device));
        }
        say(
                "nvmlDeviceGetTotalEccErrors(corrected, volatile)",
                nvml.ulong("nvmlDeviceGetTotalEccErrors", device, 0, 0));
        say(
                "nvmlDeviceGetTotalEccErrors(uncorrected, volatile)",
                nvml.ulong("nvmlDeviceGetTotalEccErrors", device, 1, 0));
        Answer[] rows = nvml.uints("nvmlDeviceGetRemappedRows", 4, device);
        say("nvmlDeviceGetRemappedRows(corrected)", rows[0]);
        say("nvmlDeviceGetRemappedRows(uncorrected)", rows[1]);
        say("nvmlDeviceGetRetiredPages(single bit)", nvml.retiredPages(device, 0));
        say("nvmlDeviceGetRetiredPages(double bit)", nvml.retiredPages(device, 1));
        for (int kind = 0; kind < SAMPLE_KINDS.length; kind++) {
            Nvml.Samples s = nvml.samples(device, kind, 0);
            out.printf(
                    Locale.ROOT,
                    "  %-58s %s%n",
                    "nvmlDeviceGetSamples(" + SAMPLE_KINDS[kind] + ")",
                    s.count() == 0
                            ? Code.text(s.code())
                            : String.format(
                                    Locale.ROOT,
                                    "%d over %.3f s: lowest %.0f, mean %.1f, highest %.0f",
                                    s.count(),
                                    (s.lastMicros() - s.firstMicros()) / 1e6,
                                    s.lowest(),
                                    s.mean(),
                                    s.highest()));
        }
    }

    private void fields(Pointer device) {
        int[] types = new int[FIELDS.length];
        Answer[] answers = nvml.fields(device, FIELDS, types);
        for (int i = 0; i < FIELDS.length; i++) {
            say("nvmlDeviceGetFieldValues(" + FIELDS[i] + ") type " + types[i], answers[i]);
        }
    }

    /** What the agent itself does at each sample, as a whole; and what counted up meanwhile. */
    private void rounds(Pointer device, String driver, int rounds) throws InterruptedException {
        GpuReader reader = new GpuReader(nvml, device, nvml.address(device), driver, 0);
        GpuReader quick = new GpuReader(nvml, device, nvml.address(device), driver, Long.MAX_VALUE / 2);
        quick.read(new double[quick.offers().size()], 0); // the slow ones, once
        double[] values = new double[reader.offers().size()];
        Answer[] before = counters(device);
        long beganNanos = System.nanoTime();
        for (int i = 0; i < rounds; i++) {
            time(" one sample without what changes slowly", quick, new double[values.length]);
            time(" one sample of all " + values.length + " channels", reader, values);
            Thread.sleep(PAUSE_MILLIS);
        }
        double seconds = (System.nanoTime() - beganNanos) / 1e9;
        Answer[] after = counters(device);
        out.printf(Locale.ROOT, "Counted up in %.3f s, per second%n", seconds);
        for (int i = 0; i < COUNTERS.length; i++) {
            boolean both = before[i].isThere() && after[i].isThere();
            out.printf(
                    Locale.ROOT,
                    "  %-58s %s%n",
                    COUNTERS[i],
                    both ? Double.toString((after[i].value() - before[i].value()) / seconds) : text(after[i]));
        }
        out.println("Channels that the agent offers, last reading");
        for (int i = 0; i < values.length; i++) {
            Offer offer = reader.offers().get(i);
            out.printf(
                    Locale.ROOT,
                    "  %-34s %20s %-8s %s%n",
                    offer.name(),
                    Double.isNaN(values[i]) ? "null" : Double.toString(values[i]),
                    offer.metric().unit(),
                    offer.limits().isEmpty() ? offer.label() : offer.label() + " " + offer.limits());
        }
        out.println("Not offered");
        reader.absent().forEach((what, code) -> out.printf(Locale.ROOT, "  %-34s %s%n", what, Code.text(code)));
    }

    private void time(String name, GpuReader reader, double[] values) {
        long begin = System.nanoTime();
        int code = reader.read(values, 0);
        called(name, System.nanoTime() - begin, code);
    }

    private static final String[] COUNTERS = {
        "energy, mJ",
        "violation time, power policy",
        "violation reference time",
        "violation time, thermal policy",
        "violation time, board limit policy",
        "violation time, reliability policy",
        "violation time, low utilization policy",
        "field 74 (power)",
        "field 75 (thermal)",
        "field 77 (board limit)",
        "field 83 (energy, mJ)",
        "field 251",
        "field 252",
        "field 253",
        "field 269",
        "field 270",
        "field 271"
    };

    /** In the order of {@link #COUNTERS}: to see in which unit they count. */
    private Answer[] counters(Pointer device) {
        List<Answer> all = new ArrayList<>();
        all.add(nvml.ulong("nvmlDeviceGetTotalEnergyConsumption", device));
        Answer[] power =
                nvml.structure("nvmlDeviceGetViolationStatus", Long.BYTES, new int[] {1, 0}, device, POLICIES[0]);
        all.addAll(List.of(power));
        for (int policy : new int[] {1, 3, 5, 4}) {
            all.add(nvml.structure("nvmlDeviceGetViolationStatus", Long.BYTES, new int[] {1}, device, policy)[0]);
        }
        int[] ids = {74, 75, 77, 83, 251, 252, 253, 269, 270, 271};
        all.addAll(List.of(nvml.fields(device, ids, new int[ids.length])));
        return all.toArray(Answer[]::new);
    }

    private void costs() {
        out.println();
        out.printf(
                Locale.ROOT,
                "%-52s %6s %10s %10s %10s  %s%n",
                "What a call costs, microseconds",
                "calls",
                "p50",
                "p99",
                "max",
                "return codes and how often");
        nanos.forEach((function, all) -> {
            long[] sorted = all.stream().mapToLong(Long::longValue).sorted().toArray();
            out.printf(
                    Locale.ROOT,
                    "%-52s %6d %10.1f %10.1f %10.1f  %s%n",
                    function,
                    sorted.length,
                    quantile(sorted, 0.5),
                    quantile(sorted, 0.99),
                    quantile(sorted, 1),
                    codes.get(function));
        });
    }

    /** Microseconds; the smallest value that at least this share of all does not exceed. */
    private static double quantile(long[] sorted, double share) {
        int rank = (int) Math.ceil(share * sorted.length);
        return sorted[Math.max(1, rank) - 1] / 1e3;
    }
}

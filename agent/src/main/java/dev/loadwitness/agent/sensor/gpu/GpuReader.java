// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import com.sun.jna.Pointer;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.LimitType;
import java.util.ArrayList;
import java.util.EnumMap;
import java.util.List;
import java.util.Map;
import java.util.TreeMap;
import java.util.function.Supplier;

/**
 * Everything that one GPU offers. What the library refuses when the GPU is opened is not offered at all: never a zero in
 * place of "not supported".
 */
final class GpuReader {
    // nvmlClocksEventReasons; the three hardware ones exist under the name of throttle reasons only
    static final long SW_POWER_CAP = 0x4;
    static final long HW_SLOWDOWN = 0x8;
    static final long SW_THERMAL_SLOWDOWN = 0x20;
    static final long HW_THERMAL_SLOWDOWN = 0x40;
    static final long HW_POWER_BRAKE = 0x80;

    // nvmlPerfPolicyType_t
    static final int POLICY_POWER = 0;
    static final int POLICY_THERMAL = 1;
    static final int POLICY_BOARD_LIMIT = 3;

    // field numbers
    static final int FIELD_MEMORY_TEMPERATURE = 82;
    static final int FIELD_POWER_AVERAGE = 185;
    static final int FIELD_POWER_INSTANT = 186;
    static final int FIELD_HW_THERMAL_TIME = 252;
    static final int FIELD_HW_POWER_BRAKE_TIME = 253;
    /** {@code NVML_VALUE_TYPE_UNSIGNED_LONG_LONG}. */
    private static final int TYPE_ULONGLONG = 3;

    /**
     * From this driver on, fields 251 to 253 are times in a throttle reason; some earlier ones had other things there.
     * Where the numbers moved is told by the headers of different years; that 580 has them was traced by others.
     */
    static final int DRIVER_OF_THROTTLE_FIELDS = 580;

    private static final int[] FIELDS = {
        FIELD_MEMORY_TEMPERATURE,
        FIELD_POWER_AVERAGE,
        FIELD_POWER_INSTANT,
        FIELD_HW_THERMAL_TIME,
        FIELD_HW_POWER_BRAKE_TIME
    };

    private static final int CLOCK_SM = 1;
    private static final int CLOCK_MEMORY = 2;
    private static final int SAMPLES_POWER = 0;
    private static final int UNKNOWN_STATE = 32;
    private static final double HERTZ = 1e6;
    private static final double WATT = 1e-3;
    private static final double JOULE = 1e-3;
    private static final double SECOND = 1e-9;

    /** What changes slowly and may cost much is asked once a second at most. */
    static final long SLOW_NANOS = 900_000_000L;

    private final Nvml nvml;
    private final Pointer device;
    private final String address;
    private final boolean throttleFields;
    private final long slowNanos;
    private final List<Line> lines = new ArrayList<>();
    private final Map<String, Integer> absent = new TreeMap<>();

    // What several channels take from one call is asked once a round.
    private final int[] fieldTypes = new int[FIELDS.length];
    private Answer[] fields = {};
    private Answer[] utilization = {};
    private Answer[] remapped = {};
    private int reasonsCode;
    private long reasons;
    private Nvml.Samples powerSamples;
    private long lastSampleMicros;
    private long lastSlowNanos;

    private record Line(Offer offer, boolean slow, Supplier<Answer> question) {}

    /**
     * @param driver version as the library writes it, for example {@code 580.65.06}
     * @param slowNanos how far apart questions about what changes slowly are at least
     */
    GpuReader(Nvml nvml, Pointer device, String address, String driver, long slowNanos) {
        this.nvml = nvml;
        this.device = device;
        this.address = address;
        throttleFields = major(driver) >= DRIVER_OF_THROTTLE_FIELDS;
        this.slowNanos = slowNanos;
        lastSlowNanos = System.nanoTime() - slowNanos;
        begin(true);
        temperatures();
        power();
        clocks();
        throttling();
        use();
        link();
        errors();
    }

    private static int major(String driver) {
        int dot = driver.indexOf('.');
        try {
            return Integer.parseInt(dot < 0 ? driver : driver.substring(0, dot));
        } catch (NumberFormatException e) {
            return 0;
        }
    }

    String address() {
        return address;
    }

    List<Offer> offers() {
        return lines.stream().map(Line::offer).toList();
    }

    /** What was not offered and the code that said so. */
    Map<String, Integer> absent() {
        return absent;
    }

    /**
     * Asks for everything.
     *
     * @param into filled from {@code from} on, one for each offer
     * @return the worst code of all answers: a loss if one of them tells of it, else the driver's absence, else success
     */
    int read(double[] into, int from) {
        long now = System.nanoTime();
        boolean slowToo = now - lastSlowNanos >= slowNanos;
        if (slowToo) {
            lastSlowNanos = now;
        }
        begin(slowToo);
        int worst = Code.SUCCESS;
        for (int i = 0; i < lines.size(); i++) {
            Line line = lines.get(i);
            if (line.slow && !slowToo) {
                into[from + i] = Double.NaN; // never the last value again
                continue;
            }
            Answer answer = line.question.get();
            into[from + i] = answer.value();
            if (Code.isLoss(answer.code()) || (Code.isDriverGone(answer.code()) && worst == Code.SUCCESS)) {
                worst = answer.code();
            }
        }
        return worst;
    }

    private void begin(boolean slowToo) {
        fields = nvml.fields(device, FIELDS, fieldTypes);
        utilization = nvml.structure("nvmlDeviceGetUtilizationRates", Integer.BYTES, new int[] {0}, device);
        reasons();
        powerSamples = nvml.samples(device, SAMPLES_POWER, lastSampleMicros);
        lastSampleMicros = powerSamples.lastMicros();
        if (slowToo) {
            remapped = nvml.uints("nvmlDeviceGetRemappedRows", 4, device);
        }
    }

    private void reasons() {
        Answer answer = nvml.ulong("nvmlDeviceGetCurrentClocksEventReasons", device);
        if (answer.code() == Code.FUNCTION_NOT_FOUND) {
            answer = nvml.ulong("nvmlDeviceGetCurrentClocksThrottleReasons", device);
        }
        reasonsCode = answer.code();
        reasons = answer.isThere() ? (long) answer.value() : 0;
    }

    private long supportedReasons() {
        Answer answer = nvml.ulong("nvmlDeviceGetSupportedClocksEventReasons", device);
        if (answer.code() == Code.FUNCTION_NOT_FOUND) {
            answer = nvml.ulong("nvmlDeviceGetSupportedClocksThrottleReasons", device);
        }
        if (!answer.isThere()) {
            absent.put("supported clocks-event reasons", answer.code());
        }
        return answer.isThere() ? (long) answer.value() : 0;
    }

    /** Offers it if the library answers now. */
    private void offer(Offer offer, Supplier<Answer> question) {
        add(offer, false, question);
    }

    private void offerSlow(Offer offer, Supplier<Answer> question) {
        add(offer, true, question);
    }

    private void add(Offer offer, boolean slow, Supplier<Answer> question) {
        Answer now = question.get();
        if (now.isThere()) {
            lines.add(new Line(offer, slow, question));
        } else {
            absent.put(offer.name(), now.code());
        }
    }

    private void temperatures() {
        offer(
                Offer.known("core.temperature")
                        .withLimits(limits(
                                LimitType.THROTTLED, threshold(1),
                                LimitType.HIGH_CRITICAL, threshold(0),
                                LimitType.MAX, threshold(3))),
                () -> nvml.uint("nvmlDeviceGetTemperature", device, 0));
        offer(Offer.known("memory.temperature").withLimits(limits(LimitType.THROTTLED, threshold(2))), () -> fields[0]);
    }

    private Answer threshold(int kind) {
        Answer answer = nvml.uint("nvmlDeviceGetTemperatureThreshold", device, kind);
        // A part that has none may also say so by a number that no part has.
        return answer.value() >= 20 && answer.value() <= 150 ? answer : Answer.failed(Code.NOT_SUPPORTED);
    }

    private static Map<LimitType, Double> limits(Object... typesAndAnswers) {
        Map<LimitType, Double> limits = new EnumMap<>(LimitType.class);
        for (int i = 0; i < typesAndAnswers.length; i += 2) {
            Answer answer = (Answer) typesAndAnswers[i + 1];
            if (answer.isThere() && !Double.isNaN(answer.value())) {
                limits.put((LimitType) typesAndAnswers[i], answer.value());
            }
        }
        return limits;
    }

    private void power() {
        offer(
                Offer.known("power"),
                () -> nvml.uint("nvmlDeviceGetPowerUsage", device).map(mw -> mw * WATT));
        offer(Offer.known("power.instant"), () -> fields[2].map(mw -> mw * WATT));
        Answer[] constraints = nvml.uints("nvmlDeviceGetPowerManagementLimitConstraints", 2, device);
        offer(
                Offer.known("power.limit")
                        .withLimits(limits(
                                LimitType.MAX,
                                constraints[1].map(mw -> mw * WATT),
                                LimitType.HIGH_DEGRADED,
                                nvml.uint("nvmlDeviceGetPowerManagementDefaultLimit", device)
                                        .map(mw -> mw * WATT))),
                () -> nvml.uint("nvmlDeviceGetEnforcedPowerLimit", device).map(mw -> mw * WATT));
        offer(
                Offer.known("energy"),
                () -> nvml.ulong("nvmlDeviceGetTotalEnergyConsumption", device).map(mj -> mj * JOULE));
        if (powerSamples.count() > 0) {
            offer(Offer.known("power.highest"), () -> sampled(powerSamples.highest()));
            offer(Offer.known("power.lowest"), () -> sampled(powerSamples.lowest()));
        } else {
            absent.put("power.highest", powerSamples.code());
        }
    }

    /** No new sample since the last round is no failure: there is nothing to say. */
    private Answer sampled(double milliwatts) {
        int code = powerSamples.code() == Code.NOT_FOUND ? Code.SUCCESS : powerSamples.code();
        return Answer.of(code, milliwatts * WATT);
    }

    private void clocks() {
        clock("clock", CLOCK_SM);
        clock("memory.clock", CLOCK_MEMORY);
    }

    private void clock(String name, int kind) {
        Answer most = nvml.uint("nvmlDeviceGetMaxClockInfo", device, kind).map(mhz -> mhz * HERTZ);
        offer(
                Offer.known(name).withLimits(limits(LimitType.MAX, most)),
                () -> nvml.uint("nvmlDeviceGetClockInfo", device, kind).map(mhz -> mhz * HERTZ));
    }

    private void throttling() {
        long supported = supportedReasons();
        flag(supported, SW_THERMAL_SLOWDOWN | HW_THERMAL_SLOWDOWN, 0, Cause.HEAT);
        flag(supported, HW_POWER_BRAKE, 0, Cause.POWER_BRAKE);
        // The bare bit: it also accompanies the two that name their cause, and then says nothing of its own.
        flag(supported, HW_SLOWDOWN, HW_THERMAL_SLOWDOWN | HW_POWER_BRAKE, Cause.HARDWARE_SLOWDOWN);
        flag(supported, SW_POWER_CAP, 0, Cause.POWER_CAP);

        time("throttle.heat.time", POLICY_THERMAL);
        time("throttle.power-cap.time", POLICY_POWER);
        time("throttle.board-limit.time", POLICY_BOARD_LIMIT);
        timeField("throttle.heat.hardware-time", 3);
        timeField("throttle.power-brake.time", 4);
    }

    private void flag(long supported, long bits, long unless, Cause cause) {
        String name = Offer.flagName(cause);
        if ((supported & bits) == 0) {
            absent.putIfAbsent(name, Code.NOT_SUPPORTED);
            return;
        }
        offer(
                Offer.known(name).withLabel("clocks-event reasons 0x" + Long.toHexString(supported & bits)),
                () -> Answer.of(reasonsCode, (reasons & bits) != 0 && (reasons & unless) == 0 ? 1 : 0));
    }

    /** {@code nvmlViolationTime_t}: reference time in microseconds, violation time in nanoseconds. */
    private void time(String name, int policy) {
        offer(
                Offer.known(name),
                () -> nvml.structure("nvmlDeviceGetViolationStatus", Long.BYTES, new int[] {1}, device, policy)[0].map(
                        ns -> ns * SECOND));
    }

    private void timeField(String name, int field) {
        if (!throttleFields || fieldTypes[field] != TYPE_ULONGLONG) {
            absent.put(name, fields[field].isThere() ? Code.NOT_SUPPORTED : fields[field].code());
            return;
        }
        offer(Offer.known(name), () -> fields[field].map(ns -> ns * SECOND));
    }

    private void use() {
        offer(Offer.known("utilization"), () -> utilization[0].map(percent -> percent / 100));
        Answer total = memory(0);
        offer(Offer.known("memory.usage").withLimits(limits(LimitType.MAX, total)), () -> memory(2));
        offer(
                Offer.known("performance-state"),
                () -> nvml.uint("nvmlDeviceGetPerformanceState", device)
                        .map(state -> state == UNKNOWN_STATE ? Double.NaN : state));
        offer(
                Offer.known("fan.speed-ratio"),
                () -> nvml.uint("nvmlDeviceGetFanSpeed", device).map(percent -> percent / 100));
    }

    /** {@code nvmlMemory_t}: total, free, used. */
    private Answer memory(int which) {
        return nvml.structure("nvmlDeviceGetMemoryInfo", Long.BYTES, new int[] {which}, device)[0];
    }

    private void link() {
        offerSlow(
                Offer.known("pcie.generation")
                        .withLimits(limits(LimitType.MAX, nvml.uint("nvmlDeviceGetMaxPcieLinkGeneration", device))),
                () -> nvml.uint("nvmlDeviceGetCurrPcieLinkGeneration", device));
        offerSlow(
                Offer.known("pcie.width")
                        .withLimits(limits(LimitType.MAX, nvml.uint("nvmlDeviceGetMaxPcieLinkWidth", device))),
                () -> nvml.uint("nvmlDeviceGetCurrPcieLinkWidth", device));
        offerSlow(Offer.known("pcie.replays"), () -> nvml.uint("nvmlDeviceGetPcieReplayCounter", device));
    }

    private void errors() {
        // nvmlMemoryErrorType_t 0 corrected, 1 uncorrected; nvmlEccCounterType_t 0 volatile: since the driver was
        // loaded
        offerSlow(
                Offer.known("memory.errors.corrected"), () -> nvml.ulong("nvmlDeviceGetTotalEccErrors", device, 0, 0));
        offerSlow(
                Offer.known("memory.errors.uncorrected"),
                () -> nvml.ulong("nvmlDeviceGetTotalEccErrors", device, 1, 0));
        offerSlow(Offer.known("memory.rows.corrected"), () -> remapped[0]);
        offerSlow(Offer.known("memory.rows.uncorrected"), () -> remapped[1]);
        offerSlow(Offer.known("memory.pages.corrected"), () -> nvml.retiredPages(device, 0));
        offerSlow(Offer.known("memory.pages.uncorrected"), () -> nvml.retiredPages(device, 1));
    }
}

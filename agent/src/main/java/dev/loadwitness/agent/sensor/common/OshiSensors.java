// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.common;

import dev.loadwitness.agent.sensor.Discovery;
import dev.loadwitness.agent.sensor.Missing;
import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.io.IOException;
import java.time.Duration;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;
import java.util.concurrent.atomic.AtomicReference;
import java.util.function.LongSupplier;

/** Readings through OSHI, for what was not found otherwise. */
public final class OshiSensors {
    private static final Duration PATIENCE = Duration.ofSeconds(10);
    private static final String CPU_TEMPERATURE = "CPU temperature";
    private static final String FAN_SPEED = "fan speed";

    private OshiSensors() {}

    /** What OSHI reads; made up in tests. */
    interface Readings {
        /** 0 or NaN where it cannot be read. */
        double cpuCelsius();

        int[] fanRpm();
    }

    /**
     * {@code found}, with CPU temperature and fans added where it lacks them and OSHI has them. Takes up to 10 s.
     */
    public static Discovery completing(Discovery found) {
        return completing(found, new Live(), System::nanoTime, PATIENCE);
    }

    static Discovery completing(Discovery found, Readings readings, LongSupplier nanoClock, Duration patience) {
        boolean wantsTemperature = !found.offers(Role.CPU, Metric.TEMPERATURE);
        boolean wantsFans = !found.offers(Role.FAN, Metric.FAN_SPEED);
        if (!wantsTemperature && !wantsFans) {
            return found;
        }
        AtomicReference<List<Channel>> offered = new AtomicReference<>();
        AtomicReference<String> failure = new AtomicReference<>("no answer within " + patience.toSeconds() + " s");
        Thread thread = new Thread(
                () -> {
                    try {
                        offered.set(channels(readings, wantsTemperature, wantsFans));
                    } catch (RuntimeException | LinkageError e) {
                        failure.set(e.toString());
                    }
                },
                "oshi sensors");
        thread.setDaemon(true);
        thread.start();
        try {
            thread.join(Math.max(1, patience.toMillis()));
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
        }
        List<Channel> channels = offered.get();
        if (channels == null) {
            return found.and(new Discovery(
                    List.of(),
                    List.of(new Missing(
                            "readings through the system's management interface",
                            failure.get(),
                            "go on without them"))));
        }
        boolean hasTemperature = channels.stream().anyMatch(c -> c.is(Role.CPU, Metric.TEMPERATURE));
        boolean hasFans = channels.stream().anyMatch(c -> c.is(Role.FAN, Metric.FAN_SPEED));
        List<Missing> stillMissing = new ArrayList<>(found.missing());
        if (wantsTemperature) {
            settle(stillMissing, CPU_TEMPERATURE, hasTemperature, "the CPU's heat will not stop the load");
        }
        if (wantsFans) {
            settle(stillMissing, FAN_SPEED, hasFans, "listen and look: a stalled fan will not be seen");
        }
        if (channels.isEmpty()) {
            return new Discovery(found.sources(), stillMissing);
        }
        List<Source> sources = new ArrayList<>(found.sources());
        sources.add(new OshiSource(channels, readings, nanoClock));
        return new Discovery(sources, stillMissing);
    }

    /** Strikes what was found off the list of what is missing, or sees to it that it stands there. */
    private static void settle(List<Missing> missing, String what, boolean found, String whatToDo) {
        if (found) {
            missing.removeIf(m -> m.what().equals(what));
        } else if (missing.stream().noneMatch(m -> m.what().equals(what))) {
            missing.add(new Missing(what, "the system's management interface gives none", whatToDo));
        }
    }

    private static List<Channel> channels(Readings readings, boolean temperature, boolean fans) {
        List<Channel> channels = new ArrayList<>();
        double celsius = readings.cpuCelsius();
        if (temperature && celsius > 0) {
            channels.add(Channel.of("cpu.package.temperature", Metric.TEMPERATURE, Role.CPU, OshiSource.NAME)
                    .withComponent("", "as chosen by OSHI"));
        }
        if (fans) {
            int[] rpm = readings.fanRpm();
            for (int i = 0; i < rpm.length; i++) {
                channels.add(
                        Channel.of("fan.oshi.fan" + (i + 1) + ".speed", Metric.FAN_SPEED, Role.FAN, OshiSource.NAME));
            }
        }
        return List.copyOf(channels);
    }

    /** Touches OSHI only when asked, since loading it costs. */
    private static final class Live implements Readings {
        @Override
        public double cpuCelsius() {
            return Oshi.system().getHardware().getSensors().getCpuTemperature();
        }

        @Override
        public int[] fanRpm() {
            return Oshi.system().getHardware().getSensors().getFanSpeeds();
        }
    }

    /** Asked at most once a second, since each answer costs tens of kilobytes of garbage; in between it says NaN. */
    static final class OshiSource implements Source {
        static final String NAME = "oshi";
        private static final long SHORTEST_NANOS = Duration.ofMillis(900).toNanos(); // lets a late 1 Hz sampler in

        private final List<Channel> channels;
        private final Readings readings;
        private final LongSupplier nanoClock;
        private boolean asked;
        private long lastNanos;

        OshiSource(List<Channel> channels, Readings readings, LongSupplier nanoClock) {
            this.channels = channels;
            this.readings = readings;
            this.nanoClock = nanoClock;
        }

        @Override
        public String name() {
            return NAME;
        }

        @Override
        public List<Channel> channels() {
            return channels;
        }

        @Override
        public void read(double[] into, int from) throws IOException {
            Arrays.fill(into, from, from + channels.size(), Double.NaN);
            long now = nanoClock.getAsLong();
            if (asked && now - lastNanos < SHORTEST_NANOS) {
                return;
            }
            asked = true;
            lastNanos = now;
            int[] rpm = null;
            int fan = 0;
            int answers = 0;
            for (int i = 0; i < channels.size(); i++) {
                if (channels.get(i).metric().equals(Metric.TEMPERATURE)) {
                    double celsius = readings.cpuCelsius();
                    if (celsius > 0) { // it says 0 for "cannot be read"
                        into[from + i] = celsius;
                        answers++;
                    }
                } else {
                    if (rpm == null) {
                        rpm = readings.fanRpm();
                    }
                    if (fan < rpm.length) {
                        into[from + i] = rpm[fan++];
                        answers++;
                    }
                }
            }
            if (answers == 0) {
                throw new IOException("OSHI reads nothing");
            }
        }

        @Override
        public void close() {
            // OSHI keeps nothing open.
        }
    }
}

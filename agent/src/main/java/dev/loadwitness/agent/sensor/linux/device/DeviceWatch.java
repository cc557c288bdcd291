// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux.device;

import dev.loadwitness.agent.sensor.SensorFact;
import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Role;
import java.io.IOException;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Queue;
import java.util.concurrent.ConcurrentLinkedQueue;
import java.util.concurrent.TimeUnit;
import java.util.function.LongSupplier;

/**
 * Tells which devices are there when it first looks, and which leave and come after that. It has no channels, only facts.
 * What left and came back between two looks is told too where the kernel numbers it anew: USB and input devices.
 */
public final class DeviceWatch implements Source {
    static final String NAME = "sysfs/devices";
    private static final long EVERY_NANOS = TimeUnit.SECONDS.toNanos(5);

    private final BusDevices devices;
    private final LongSupplier nanoClock;
    private final Queue<SensorFact> facts = new ConcurrentLinkedQueue<>();
    private Map<String, BusDevice> known = Map.of();
    private boolean begun;
    private long lastNanos;

    public DeviceWatch(BusDevices devices, LongSupplier nanoClock) {
        this.devices = devices;
        this.nanoClock = nanoClock;
    }

    @Override
    public String name() {
        return NAME;
    }

    @Override
    public List<Channel> channels() {
        return List.of();
    }

    @Override
    public void read(double[] into, int from) throws IOException {
        long now = nanoClock.getAsLong();
        if (begun && now - lastNanos < EVERY_NANOS) {
            return;
        }
        Map<String, BusDevice> found = devices.look(known);
        if (begun) {
            changes(found);
        } else {
            // Bridges, hubs and sensors stand in no judgement, and would fill the beginning of each log.
            found.values().stream().filter(d -> d.role() != Role.BOARD).forEach(d -> tell(EventKind.DEVICE_PRESENT, d));
        }
        known = new LinkedHashMap<>(found);
        begun = true;
        lastNanos = now;
    }

    private void changes(Map<String, BusDevice> found) {
        known.forEach((id, before) -> {
            BusDevice now = found.get(id);
            if (now == null || !now.generation().equals(before.generation())) {
                tell(EventKind.DEVICE_LEFT, before);
            }
        });
        found.forEach((id, now) -> {
            BusDevice before = known.get(id);
            if (before == null || !now.generation().equals(before.generation())) {
                tell(EventKind.DEVICE_ARRIVED, now);
            }
        });
    }

    private void tell(EventKind kind, BusDevice device) {
        facts.add(new SensorFact.Noticed(NAME, kind, device.facts()));
    }

    @Override
    public List<SensorFact> takeFacts() {
        List<SensorFact> taken = new ArrayList<>();
        for (SensorFact fact = facts.poll(); fact != null; fact = facts.poll()) {
            taken.add(fact);
        }
        return taken;
    }

    @Override
    public void close() {
        // Nothing is kept open.
    }
}

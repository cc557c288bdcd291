// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.work;

import dev.loadwitness.agent.load.worker.ComputeDevice;
import dev.loadwitness.agent.machine.MachineSensors;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Optional;
import org.jspecify.annotations.Nullable;

/**
 * The device that loads of a role run on.
 *
 * @param how why this one, for the log
 */
public record GpuChoice(Role role, ComputeDevice device, String how) {
    /** What a technician may say about it on the command line; null where nothing was said. */
    public record Wishes(
            @Nullable String discrete,
            @Nullable String integrated,
            @Nullable String any) {
        public static final Wishes NONE = new Wishes(null, null, null);
    }

    /** True if something else than a graphics part stands in for one; then a run proves nothing about a graphics part. */
    boolean isStandIn() {
        return device.type() != ComputeDevice.Type.GPU;
    }

    public Map<String, Object> facts() {
        Map<String, Object> facts = new LinkedHashMap<>();
        facts.put("device", device.describe());
        facts.put("deviceType", device.type().name().toLowerCase(Locale.ROOT));
        device.pciAddress().ifPresent(a -> facts.put("address", a));
        facts.put("how", how);
        device.peakGflops().ifPresent(p -> facts.put("peakGflops", p));
        if (isStandIn()) {
            facts.put("standIn", true);
        }
        return facts;
    }

    /**
     * Whether a graphics part is discrete or part of the processor: what the kernel's files say of its PCI address, else what
     * its driver says of its memory. Empty for what is no graphics part.
     */
    public static Optional<Role> role(ComputeDevice device) {
        if (device.type() != ComputeDevice.Type.GPU) {
            return Optional.empty();
        }
        return device.pciAddress()
                .flatMap(MachineSensors::gpuRole)
                .or(() -> Optional.of(device.hostMemory() ? Role.GPU_INTEGRATED : Role.GPU_DISCRETE));
    }

    /** The device for a role, or empty if there is none; a wish that no device fits is a mistake. */
    public static Optional<GpuChoice> of(Role role, List<ComputeDevice> devices, Wishes wishes) throws Complaint {
        String wish = wishes.any() != null
                ? wishes.any()
                : role == Role.GPU_DISCRETE ? wishes.discrete() : wishes.integrated();
        if (wish != null) {
            ComputeDevice named = devices.stream()
                    .filter(d -> wishes.any() != null || d.type() == ComputeDevice.Type.GPU)
                    .filter(d -> fits(d, wish))
                    .findFirst()
                    .orElseThrow(() -> new Complaint(
                            Sysexits.UNAVAILABLE,
                            "no OpenCL device has '" + wish + "' as its PCI address or in its name; there is "
                                    + list(devices)));
            String what = named.type() == ComputeDevice.Type.GPU
                    ? "named on the command line"
                    : "a " + named.type() + " device chosen explicitly; proves nothing about a GPU";
            return Optional.of(new GpuChoice(role, named, what));
        }
        List<ComputeDevice> fitting =
                devices.stream().filter(d -> role(d).equals(Optional.of(role))).toList();
        return fitting.stream()
                .findFirst()
                .map(d -> new GpuChoice(
                        role, d, fitting.size() == 1 ? "the only one of its role" : "the first of " + fitting.size()));
    }

    /**
     * The device for a role after an interruption: the one before, by its address or else by its description; a stand-in
     * only as the same stand-in. Where the role had none yet, by the role.
     *
     * @param before the last {@code load-begin} of each role
     */
    public static Optional<GpuChoice> again(Role role, List<ComputeDevice> devices, Map<Role, Event> before) {
        Optional<Event> standIn = before.values().stream()
                .filter(e -> Boolean.TRUE.equals(e.facts().get("standIn")))
                .findFirst();
        Optional<Event> load = Optional.ofNullable(before.get(role)).or(() -> standIn);
        if (load.isEmpty()) {
            return devices.stream()
                    .filter(d -> role(d).equals(Optional.of(role)))
                    .findFirst()
                    .map(d -> new GpuChoice(role, d, "by its role, after an interruption"));
        }
        String address = load.get().text("address");
        String description = load.get().text("device");
        return devices.stream()
                .filter(d -> address.isEmpty()
                        ? d.describe().equals(description)
                        : d.pciAddress().equals(Optional.of(address)))
                .findFirst()
                .map(d -> new GpuChoice(role, d, "the one before the interruption"));
    }

    private static boolean fits(ComputeDevice device, String wish) {
        String low = wish.toLowerCase(Locale.ROOT);
        return device.pciAddress().equals(Optional.of(low))
                || device.name().toLowerCase(Locale.ROOT).contains(low)
                || device.driver().toLowerCase(Locale.ROOT).contains(low);
    }

    public static String list(List<ComputeDevice> devices) {
        return devices.isEmpty()
                ? "none"
                : String.join(
                        "; ",
                        devices.stream()
                                .map(d -> d.describe() + ", "
                                        + role(d).map(Role::word)
                                                .orElse(d.type().name()))
                                .toList());
    }
}

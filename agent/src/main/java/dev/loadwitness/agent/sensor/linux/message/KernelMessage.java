// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux.message;

import dev.loadwitness.runlog.Role;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalInt;
import java.util.regex.Matcher;
import java.util.regex.Pattern;
import org.jspecify.annotations.Nullable;

/**
 * What a message of the kernel tells of.
 *
 * @param fault our word; empty for a grave message that no rule knows
 * @param role the part at fault, where the message says so
 * @param device its address or name; empty if the message has none
 * @param xid the number of NVIDIA's driver, with {@code meaning} its sentence
 */
record KernelMessage(String fault, Optional<Role> role, String device, OptionalInt xid, String meaning) {
    static final String OFF_THE_BUS = "gpu-off-the-bus";
    static final String GPU_RESET = "gpu-reset";
    static final String DISCONNECTED = "device-disconnected";
    static final String CONNECTED = "device-connected";

    /** Emergency, alert and critical: told even if no rule knows them. */
    private static final int GRAVE = 2;

    private static final Pattern XID = Pattern.compile("NVRM: Xid \\((?:PCI:)?([0-9a-fA-F:.]+)\\): (\\d+)\\b.*");
    private static final Pattern PCI = Pattern.compile("\\b([0-9a-f]{4}:[0-9a-f]{2}:[0-9a-f]{2}\\.[0-7])\\b");
    private static final Pattern USB_LEFT = Pattern.compile("usb (\\d+-[\\d.]+): USB disconnect, .*");
    private static final Pattern USB_CAME = Pattern.compile("usb (\\d+-[\\d.]+): new .*USB device number .*");

    private record Rule(
            Pattern pattern, String fault, @Nullable Role role) {}

    /** The first that fits counts. A null role is that of the device named in the message, if any. */
    private static final List<Rule> RULES = List.of(
            // NVIDIA's driver beside its numbered faults; from memory of such logs
            rule("NVRM:.*fallen off the bus.*", OFF_THE_BUS, Role.GPU_DISCRETE),
            rule("NVRM:.*(rm_init_adapter failed|RmInitAdapter failed).*", "gpu-fault", Role.GPU_DISCRETE),
            // amdgpu: drivers/gpu/drm/amd/amdgpu (amdgpu_device.c, amdgpu_job.c, amdgpu_ras.c); from memory
            rule(
                    ".*amdgpu.*(GPU reset begin|GPU reset\\(\\d+\\) succeeded|GPU recovery|VRAM is lost).*",
                    GPU_RESET,
                    null),
            rule(".*amdgpu.*device lost from bus.*", OFF_THE_BUS, null),
            rule(".*(amdgpu|radeon).*(ring \\S+ timeout|lockup|hang).*", "gpu-hang", null),
            rule(".*amdgpu.*uncorrectable.*", "gpu-memory", null),
            // i915 and xe: drivers/gpu/drm/i915/gt/intel_reset.c, i915_gpu_error.c, drivers/gpu/drm/xe; from memory
            rule(
                    ".*(i915|xe) .*(Resetting (chip|rcs|bcs|vcs|vecs|ccs)|GT reset|trying reset|reset started).*",
                    GPU_RESET,
                    null),
            rule(".*(i915|xe) .*(GPU HANG|Timedout job|hung).*", "gpu-hang", null),
            // machine checks: arch/x86/kernel/cpu/mce, drivers/edac/mce_amd.c
            rule(
                    ".*\\[Hardware Error\\]:.*(Corrected error|no action required).*",
                    "machine-check-corrected",
                    Role.CPU),
            rule(".*mce: \\[Hardware Error\\]: Machine check events logged.*", "machine-check-corrected", Role.CPU),
            rule(".*(mce: \\[Hardware Error\\]|Machine check|Uncorrected error).*", "machine-check", Role.CPU),
            // memory with check bits: drivers/edac/edac_mc.c
            rule("EDAC MC\\d+: \\d+ CE .*", "memory-corrected", Role.MEMORY),
            rule("EDAC MC\\d+: \\d+ UE .*", "memory-uncorrected", Role.MEMORY),
            // PCI Express: drivers/pci/pcie/aer.c, dpc.c
            rule(".*(AER: .*[Cc]orrect(ed|able) error|severity=Correct(ed|able)).*", "link-corrected", null),
            rule(
                    ".*(AER: .*[Uu]ncorrect(ed|able)|severity=Uncorrect(ed|able)|AER: .*[Ff]atal).*",
                    "link-uncorrected",
                    null),
            rule(".*DPC: (containment|unmasked).*", "link-uncorrected", null),
            rule("pcieport .*(Link Down|link is down|Card not present).*", "link-down", null),
            // thermal: drivers/thermal/thermal_core.c, arch/x86 therm_throt.c
            rule(".*critical temperature reached.*", "thermal-shutdown", Role.BOARD),
            rule(".*(Package|Core) temperature.* above threshold.*", "cpu-heat", Role.CPU),
            // storage: drivers/nvme/host/pci.c, drivers/ata/libata, block/blk-core.c
            rule(
                    "nvme nvme\\d+: .*(controller is down|timeout|Removing|Device not ready|Disabling device).*",
                    "storage-error",
                    Role.STORAGE),
            rule(
                    "ata\\d+(\\.\\d+)?: .*(exception Emask|link down|failed command|disable device).*",
                    "storage-error",
                    Role.STORAGE),
            rule(".*(I/O error, dev (sd|nvme|mmc)|critical (medium|target) error).*", "storage-error", Role.STORAGE));

    private static Rule rule(String pattern, String fault, @Nullable Role role) {
        return new Rule(Pattern.compile(pattern), fault, role);
    }

    /**
     * Empty if the message is of no concern here.
     *
     * @param level of the kernel: 0 is the gravest
     * @param roles of GPUs and their bridges, by address
     * @param usb what hung on which USB port when the agent began
     */
    static Optional<KernelMessage> of(String text, int level, Map<String, Role> roles, Map<String, Role> usb) {
        Matcher xid = XID.matcher(text);
        if (xid.matches()) {
            int number = Integer.parseInt(xid.group(2));
            Xid known = Xid.of(number);
            return Optional.of(new KernelMessage(
                    known.fault(),
                    Optional.of(Role.GPU_DISCRETE),
                    function(xid.group(1)),
                    OptionalInt.of(number),
                    known.meaning()));
        }
        Matcher left = USB_LEFT.matcher(text);
        if (left.matches()) {
            return Optional.of(
                    plain(DISCONNECTED, Optional.ofNullable(usb.get(left.group(1))), "usb " + left.group(1)));
        }
        Matcher came = USB_CAME.matcher(text);
        if (came.matches()) {
            return usb.containsKey(came.group(1))
                    ? Optional.of(plain(CONNECTED, Optional.of(usb.get(came.group(1))), "usb " + came.group(1)))
                    : Optional.empty();
        }
        Matcher pci = PCI.matcher(text);
        String address = "";
        Optional<Role> named = Optional.empty();
        while (pci.find()) {
            // The last one that is a GPU's: a bridge reports what a device below it did.
            address = address.isEmpty() || roles.containsKey(pci.group(1)) ? pci.group(1) : address;
            named = roles.containsKey(pci.group(1)) ? Optional.of(roles.get(pci.group(1))) : named;
        }
        for (Rule rule : RULES) {
            if (rule.pattern.matcher(text).matches()) {
                return Optional.of(plain(
                                rule.fault, Optional.ofNullable(rule.role).or(() -> roles(roles, text)), address)
                        .withRole(named));
            }
        }
        return level <= GRAVE ? Optional.of(plain("", Optional.empty(), address)) : Optional.empty();
    }

    /** A driver that serves one GPU only need not say which. */
    private static Optional<Role> roles(Map<String, Role> roles, String text) {
        boolean graphics = text.contains("amdgpu") || text.contains("i915") || text.contains("xe ");
        List<Role> distinct = roles.values().stream().distinct().toList();
        return graphics && distinct.size() == 1 ? Optional.of(distinct.get(0)) : Optional.empty();
    }

    private static KernelMessage plain(String fault, Optional<Role> role, String device) {
        return new KernelMessage(fault, role, device, OptionalInt.empty(), "");
    }

    private KernelMessage withRole(Optional<Role> named) {
        return new KernelMessage(fault, role.or(() -> named), device, xid, meaning);
    }

    /** The driver leaves the function out, or writes none: {@code 0000:01:00} is {@code 0000:01:00.0}. */
    private static String function(String address) {
        String small = address.toLowerCase(Locale.ROOT);
        return small.contains(".") ? small : small + ".0";
    }
}

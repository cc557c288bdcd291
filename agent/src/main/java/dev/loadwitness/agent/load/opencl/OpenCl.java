// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.opencl;

import com.sun.jna.Native;
import com.sun.jna.NativeLibrary;
import com.sun.jna.Pointer;
import com.sun.jna.ptr.IntByReference;
import dev.loadwitness.agent.load.opencl.OpenClException.Kind;
import dev.loadwitness.agent.load.worker.ComputeDevice;
import dev.loadwitness.runlog.PciAddress;
import java.nio.ByteBuffer;
import java.nio.ByteOrder;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.Arrays;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Optional;
import org.jspecify.annotations.Nullable;

/** The OpenCL library of this system, and the devices it offers. */
public final class OpenCl {
    private static final int PLATFORM_NAME = 0x0902;
    private static final long DEVICE_TYPE_CPU = 1 << 1;
    private static final long DEVICE_TYPE_GPU = 1 << 2;
    private static final long DEVICE_TYPE_ALL = 0xFFFFFFFFL;
    private static final int DEVICE_TYPE = 0x1000;
    private static final int DEVICE_MAX_COMPUTE_UNITS = 0x1002;
    private static final int DEVICE_MAX_WORK_GROUP_SIZE = 0x1004;
    private static final int DEVICE_PREFERRED_VECTOR_WIDTH_FLOAT = 0x100A;
    private static final int DEVICE_MAX_CLOCK_FREQUENCY = 0x100C;
    private static final int DEVICE_MAX_MEM_ALLOC_SIZE = 0x1010;
    private static final int DEVICE_GLOBAL_MEM_SIZE = 0x101F;
    private static final int DEVICE_NAME = 0x102B;
    private static final int DEVICE_VENDOR = 0x102C;
    private static final int DRIVER_VERSION = 0x102D;
    private static final int DEVICE_EXTENSIONS = 0x1030;
    private static final int DEVICE_HOST_UNIFIED_MEMORY = 0x1035;

    /** cl_khr_pci_bus_info: four 32-bit words, domain, bus, device, function. */
    private static final int DEVICE_PCI_BUS_INFO_KHR = 0x410F;
    /** cl_nv_device_attribute_query. */
    private static final int DEVICE_COMPUTE_CAPABILITY_MAJOR_NV = 0x4000;

    private static final int DEVICE_COMPUTE_CAPABILITY_MINOR_NV = 0x4001;
    private static final int DEVICE_PCI_BUS_ID_NV = 0x4008;
    private static final int DEVICE_PCI_SLOT_ID_NV = 0x4009;
    private static final int DEVICE_PCI_DOMAIN_ID_NV = 0x400A;
    /** cl_amd_device_attribute_query: a union of 24 bytes; type 1 has bus, device, function in its last three. */
    private static final int DEVICE_TOPOLOGY_AMD = 0x4037;

    private static final int DEVICE_SIMD_PER_COMPUTE_UNIT_AMD = 0x4040;
    private static final int DEVICE_SIMD_WIDTH_AMD = 0x4041;

    /**
     * Single-precision lanes of one multiprocessor by compute capability. Source: arithmetic-instruction throughput table
     * of the vendor's CUDA C++ Programming Guide (from memory).
     */
    private static final Map<String, Integer> LANES_BY_CAPABILITY = Map.ofEntries(
            Map.entry("5.0", 128),
            Map.entry("5.2", 128),
            Map.entry("6.0", 64),
            Map.entry("6.1", 128),
            Map.entry("7.0", 64),
            Map.entry("7.5", 64),
            Map.entry("8.0", 64),
            Map.entry("8.6", 128),
            Map.entry("8.9", 128),
            Map.entry("9.0", 128),
            Map.entry("10.0", 128),
            Map.entry("12.0", 128));

    private static final List<Path> PLACES = List.of(
            Path.of("/usr/lib/x86_64-linux-gnu/libOpenCL.so.1"),
            Path.of("/lib/x86_64-linux-gnu/libOpenCL.so.1"),
            Path.of("/usr/lib64/libOpenCL.so.1"),
            Path.of("/lib64/libOpenCL.so.1"),
            Path.of("/usr/lib/libOpenCL.so.1"),
            Path.of("/lib/libOpenCL.so.1"));

    private final Calls calls;

    private OpenCl(Calls calls) {
        this.calls = calls;
    }

    /**
     * Loads the library from one of the places that only the system's owner can write to.
     *
     * @throws OpenClException if there is none
     */
    public static OpenCl load() {
        return load(PLACES.stream()
                .filter(Files::isRegularFile)
                .findFirst()
                .orElseThrow(() -> OpenClException.of(
                        Kind.NO_OPENCL,
                        "this system has no OpenCL library; install the graphics driver with its OpenCL part, and the"
                                + " package ocl-icd-libopencl1 (looked for " + PLACES + ")")));
    }

    static OpenCl load(Path library) {
        try {
            // Loaded by its absolute path first: JNA would otherwise search elsewhere, too.
            NativeLibrary.getInstance(library.toString());
            return new OpenCl(Native.load(library.toString(), Calls.class));
        } catch (UnsatisfiedLinkError e) {
            throw OpenClException.of(Kind.NO_OPENCL, library + " cannot be loaded: " + e.getMessage());
        }
    }

    /** Takes what is found at once, since the next question may never be answered. */
    public interface Finder {
        /**
         * A driver is asked from now on.
         *
         * @param name empty until it has told that
         */
        void platform(int number, String name);

        void device(ComputeDevice device);

        /** Something is left out, and why. */
        void refused(String why);
    }

    /**
     * Finds all devices of all platforms; a platform that gives an error is left out.
     *
     * @param first platform to begin with
     */
    public void find(int first, Finder finder) {
        Pointer[] platforms = platforms();
        for (int p = first; p < platforms.length; p++) {
            finder.platform(p, "");
            finder.platform(p, platformName(platforms[p]));
            try {
                Pointer[] devices = devices(p, platforms[p]);
                for (int d = 0; d < devices.length; d++) {
                    find(p, platforms[p], d, devices[d], finder);
                }
            } catch (OpenClException e) {
                finder.refused(e.getMessage());
            }
        }
    }

    private void find(int p, Pointer platform, int d, Pointer device, Finder finder) {
        try {
            finder.device(describe(p, platform, d, device));
        } catch (OpenClException e) {
            finder.refused(e.getMessage());
        }
    }

    /**
     * Opens a device.
     *
     * @param key platform and index, as in {@link ComputeDevice}, with a colon between
     */
    public Compute open(String key) {
        String[] parts = key.split(":", -1);
        Pointer[] platforms = platforms();
        int p = Integer.parseInt(parts[0]);
        Pointer[] devices = p < platforms.length ? devices(p, platforms[p]) : new Pointer[0];
        int d = Integer.parseInt(parts[1]);
        if (d >= devices.length) {
            throw OpenClException.of(Kind.NO_SUCH_DEVICE, "OpenCL has no device " + key + " any more");
        }
        return new Compute(calls, devices[d], describe(p, platforms[p], d, devices[d]));
    }

    private Pointer[] platforms() {
        return handles("the OpenCL library", "platforms", ComputeDevice.MOST_PLATFORMS, (room, into, count) -> {
            int code = calls.clGetPlatformIDs(room, into, count);
            check("clGetPlatformIDs", code);
            return code;
        });
    }

    private Pointer[] devices(int p, Pointer platform) {
        return handles(
                driver(p, platform),
                "devices",
                ComputeDevice.MOST_DEVICES,
                (room, into, count) -> calls.clGetDeviceIDs(platform, DEVICE_TYPE_ALL, room, into, count));
    }

    /** One of the functions that give handles: how many there is room for, where to put them, and how many there are. */
    private interface Handles {
        int get(int room, Pointer @Nullable [] into, IntByReference count);
    }

    /** None where the driver gives an error when it is asked how many. */
    private static Pointer[] handles(String who, String what, int most, Handles call) {
        IntByReference count = new IntByReference();
        if (call.get(0, null, count) != 0 || count.getValue() == 0) {
            return new Pointer[0];
        }
        int claimed = count.getValue();
        if (claimed < 0 || claimed > most) {
            throw OpenClException.untrue(who + " says that it has " + Integer.toUnsignedString(claimed) + " " + what);
        }
        Pointer[] handles = new Pointer[claimed];
        int code = call.get(claimed, handles, count);
        if (code != 0) {
            throw OpenClException.of(
                    Kind.OTHER, who + " does not give its " + what + ": " + OpenClException.describe(code));
        }
        if (count.getValue() != claimed) {
            throw OpenClException.untrue(who + " says that it has " + claimed + " " + what + ", then that it has "
                    + Integer.toUnsignedString(count.getValue()));
        }
        if (Arrays.asList(handles).contains(null)) {
            throw OpenClException.untrue(
                    who + " says that it has " + claimed + " " + what + ", and gives nothing for one of them");
        }
        return handles;
    }

    private String driver(int p, Pointer platform) {
        String name = platformName(platform);
        return "the OpenCL driver " + (name.isEmpty() ? "number " + p : "'" + name + "'");
    }

    private ComputeDevice describe(int p, Pointer platform, int d, Pointer device) {
        try {
            return described(p, platform, d, device);
        } catch (OpenClException | IllegalArgumentException e) {
            throw OpenClException.of(
                    Kind.OTHER,
                    driver(p, platform) + " does not describe its device " + d + " as a device can be: "
                            + e.getMessage());
        }
    }

    private ComputeDevice described(int p, Pointer platform, int d, Pointer device) {
        long type = number(device, DEVICE_TYPE).orElse(0L);
        String extensions = info(device, DEVICE_EXTENSIONS).map(Info::text).orElse("");
        long memory = number(device, DEVICE_GLOBAL_MEM_SIZE).orElse(0L);
        long allocation = number(device, DEVICE_MAX_MEM_ALLOC_SIZE).orElse(0L);
        return new ComputeDevice(
                p,
                d,
                (type & DEVICE_TYPE_GPU) != 0
                        ? ComputeDevice.Type.GPU
                        : (type & DEVICE_TYPE_CPU) != 0 ? ComputeDevice.Type.CPU : ComputeDevice.Type.OTHER,
                text(device, DEVICE_NAME),
                text(device, DEVICE_VENDOR),
                platformName(platform) + " " + text(device, DRIVER_VERSION),
                pciAddress(device, extensions).filter(PciAddress::is),
                memory,
                // More than there is would be of no use; less than nothing stays what it is, and is refused.
                allocation < 0 ? allocation : Math.min(allocation, memory),
                number(device, DEVICE_HOST_UNIFIED_MEMORY).orElse(0L) != 0,
                count(device, DEVICE_MAX_COMPUTE_UNITS).orElse(1),
                count(device, DEVICE_MAX_CLOCK_FREQUENCY).orElse(0),
                count(device, DEVICE_MAX_WORK_GROUP_SIZE).orElse(1),
                count(device, DEVICE_PREFERRED_VECTOR_WIDTH_FLOAT).orElse(1),
                lanes(device, extensions));
    }

    private Optional<String> pciAddress(Pointer device, String extensions) {
        if (extensions.contains("cl_khr_pci_bus_info")) {
            Optional<ByteBuffer> words = info(device, DEVICE_PCI_BUS_INFO_KHR)
                    .filter(b -> b.length == 4 * Integer.BYTES)
                    .map(OpenCl::numbers);
            if (words.isPresent()) {
                ByteBuffer w = words.get();
                return Optional.of(address(w.getInt(0), w.getInt(4), w.getInt(8), w.getInt(12)));
            }
        }
        if (extensions.contains("cl_nv_device_attribute_query")) {
            Optional<Integer> bus = count(device, DEVICE_PCI_BUS_ID_NV);
            // The slot's lowest three bits are the function.
            Optional<Integer> slot = count(device, DEVICE_PCI_SLOT_ID_NV);
            if (bus.isPresent() && slot.isPresent()) {
                int domain = count(device, DEVICE_PCI_DOMAIN_ID_NV).orElse(0);
                return Optional.of(address(domain, bus.get(), slot.get() >> 3, slot.get() & 7));
            }
        }
        if (extensions.contains("cl_amd_device_attribute_query")) {
            Optional<ByteBuffer> topology = info(device, DEVICE_TOPOLOGY_AMD)
                    .filter(b -> b.length == 24)
                    .map(OpenCl::numbers)
                    .filter(b -> b.getInt(0) == 1);
            if (topology.isPresent()) {
                ByteBuffer t = topology.get();
                return Optional.of(address(0, t.get(21) & 0xFF, t.get(22) & 0xFF, t.get(23) & 0xFF));
            }
        }
        return Optional.empty();
    }

    private static String address(int domain, int bus, int device, int function) {
        return String.format(Locale.ROOT, "%04x:%02x:%02x.%x", domain, bus, device, function);
    }

    private int lanes(Pointer device, String extensions) {
        if (extensions.contains("cl_nv_device_attribute_query")) {
            Optional<Long> major = number(device, DEVICE_COMPUTE_CAPABILITY_MAJOR_NV);
            Optional<Long> minor = number(device, DEVICE_COMPUTE_CAPABILITY_MINOR_NV);
            if (major.isPresent() && minor.isPresent()) {
                return LANES_BY_CAPABILITY.getOrDefault(major.get() + "." + minor.get(), 0);
            }
        }
        if (extensions.contains("cl_amd_device_attribute_query")) {
            long simds = count(device, DEVICE_SIMD_PER_COMPUTE_UNIT_AMD).orElse(0);
            return bounded(simds * count(device, DEVICE_SIMD_WIDTH_AMD).orElse(0));
        }
        return 0;
    }

    private String platformName(Pointer platform) {
        try {
            return Info.of(
                            "the name of a platform",
                            (size, value, sizeOut) ->
                                    calls.clGetPlatformInfo(platform, PLATFORM_NAME, size, value, sizeOut))
                    .map(Info::name)
                    .orElse("");
        } catch (OpenClException e) {
            return ""; // it is known by its number then
        }
    }

    private String text(Pointer device, int name) {
        return info(device, name).map(Info::name).orElse("");
    }

    /** Whatever width the driver gives the number. */
    private Optional<Long> number(Pointer device, int name) {
        return info(device, name)
                .filter(b -> b.length == Integer.BYTES || b.length == Long.BYTES)
                .map(b -> b.length == Integer.BYTES
                        ? Integer.toUnsignedLong(numbers(b).getInt())
                        : numbers(b).getLong());
    }

    private Optional<Integer> count(Pointer device, int name) {
        return number(device, name).map(OpenCl::bounded);
    }

    /** What is beyond any count stays beyond it. */
    private static int bounded(long count) {
        return (int) Math.max(-1, Math.min(count, Integer.MAX_VALUE));
    }

    private static ByteBuffer numbers(byte[] bytes) {
        return ByteBuffer.wrap(bytes).order(ByteOrder.nativeOrder());
    }

    private Optional<byte[]> info(Pointer device, int name) {
        return Info.of(
                String.format(Locale.ROOT, "what it tells of itself under 0x%04X", name),
                (size, value, sizeOut) -> calls.clGetDeviceInfo(device, name, size, value, sizeOut));
    }

    private static void check(String call, int code) {
        if (code != 0) {
            throw OpenClException.ofCall(call, code);
        }
    }
}

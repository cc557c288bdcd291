// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.opencl;

import com.sun.jna.Memory;
import com.sun.jna.Native;
import com.sun.jna.NativeLibrary;
import com.sun.jna.Pointer;
import com.sun.jna.ptr.IntByReference;
import dev.loadwitness.agent.load.ComputeDevice;
import dev.loadwitness.agent.load.opencl.OpenClException.Kind;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Optional;

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
        Path library = PLACES.stream()
                .filter(Files::isRegularFile)
                .findFirst()
                .orElseThrow(() -> OpenClException.of(
                        Kind.NO_OPENCL,
                        "this system has no OpenCL library; install the graphics driver with its OpenCL part, and the"
                                + " package ocl-icd-libopencl1 (looked for " + PLACES + ")"));
        try {
            // Loaded by its absolute path first: JNA would otherwise search elsewhere, too.
            NativeLibrary.getInstance(library.toString());
            return new OpenCl(Native.load(library.toString(), Calls.class));
        } catch (UnsatisfiedLinkError e) {
            throw OpenClException.of(Kind.NO_OPENCL, library + " cannot be loaded: " + e.getMessage());
        }
    }

    /** All devices of all platforms; a platform that gives an error is left out. */
    public List<ComputeDevice> devices() {
        List<ComputeDevice> found = new ArrayList<>();
        Pointer[] platforms = platforms();
        for (int p = 0; p < platforms.length; p++) {
            Pointer[] devices = devices(platforms[p]);
            for (int d = 0; d < devices.length; d++) {
                found.add(describe(p, platforms[p], d, devices[d]));
            }
        }
        return found;
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
        Pointer[] devices = p < platforms.length ? devices(platforms[p]) : new Pointer[0];
        int d = Integer.parseInt(parts[1]);
        if (d >= devices.length) {
            throw OpenClException.of(Kind.NO_SUCH_DEVICE, "OpenCL has no device " + key + " any more");
        }
        return new Compute(calls, devices[d], describe(p, platforms[p], d, devices[d]));
    }

    private Pointer[] platforms() {
        IntByReference count = new IntByReference();
        check("clGetPlatformIDs", calls.clGetPlatformIDs(0, null, count));
        Pointer[] platforms = new Pointer[count.getValue()];
        if (platforms.length > 0) {
            check("clGetPlatformIDs", calls.clGetPlatformIDs(platforms.length, platforms, null));
        }
        return platforms;
    }

    private Pointer[] devices(Pointer platform) {
        IntByReference count = new IntByReference();
        if (calls.clGetDeviceIDs(platform, DEVICE_TYPE_ALL, 0, null, count) != 0 || count.getValue() == 0) {
            return new Pointer[0];
        }
        Pointer[] devices = new Pointer[count.getValue()];
        check("clGetDeviceIDs", calls.clGetDeviceIDs(platform, DEVICE_TYPE_ALL, devices.length, devices, null));
        return devices;
    }

    private ComputeDevice describe(int p, Pointer platform, int d, Pointer device) {
        long type = number(device, DEVICE_TYPE).orElse(0L);
        String extensions = text(device, DEVICE_EXTENSIONS);
        return new ComputeDevice(
                p,
                d,
                (type & DEVICE_TYPE_GPU) != 0
                        ? ComputeDevice.Type.GPU
                        : (type & DEVICE_TYPE_CPU) != 0 ? ComputeDevice.Type.CPU : ComputeDevice.Type.OTHER,
                text(device, DEVICE_NAME),
                text(device, DEVICE_VENDOR),
                platformName(platform) + " " + text(device, DRIVER_VERSION),
                pciAddress(device, extensions),
                number(device, DEVICE_GLOBAL_MEM_SIZE).orElse(0L),
                number(device, DEVICE_MAX_MEM_ALLOC_SIZE).orElse(0L),
                number(device, DEVICE_HOST_UNIFIED_MEMORY).orElse(0L) != 0,
                (int) (long) number(device, DEVICE_MAX_COMPUTE_UNITS).orElse(1L),
                (int) (long) number(device, DEVICE_MAX_CLOCK_FREQUENCY).orElse(0L),
                (int) (long) number(device, DEVICE_MAX_WORK_GROUP_SIZE).orElse(1L),
                (int) (long) number(device, DEVICE_PREFERRED_VECTOR_WIDTH_FLOAT).orElse(1L),
                lanes(device, extensions));
    }

    private Optional<String> pciAddress(Pointer device, String extensions) {
        if (extensions.contains("cl_khr_pci_bus_info")) {
            Optional<Memory> bytes = info(device, DEVICE_PCI_BUS_INFO_KHR);
            if (bytes.isPresent() && bytes.get().size() == 4 * Integer.BYTES) {
                int[] w = bytes.get().getIntArray(0, 4);
                return Optional.of(address(w[0], w[1], w[2], w[3]));
            }
        }
        if (extensions.contains("cl_nv_device_attribute_query")) {
            Optional<Long> bus = number(device, DEVICE_PCI_BUS_ID_NV);
            // The slot's lowest three bits are the function.
            Optional<Long> slot = number(device, DEVICE_PCI_SLOT_ID_NV);
            if (bus.isPresent() && slot.isPresent()) {
                int domain =
                        (int) (long) number(device, DEVICE_PCI_DOMAIN_ID_NV).orElse(0L);
                return Optional.of(
                        address(domain, (int) (long) bus.get(), (int) (slot.get() >> 3), (int) (slot.get() & 7)));
            }
        }
        if (extensions.contains("cl_amd_device_attribute_query")) {
            Optional<Memory> topology = info(device, DEVICE_TOPOLOGY_AMD);
            if (topology.isPresent()
                    && topology.get().size() == 24
                    && topology.get().getInt(0) == 1) {
                byte[] b = topology.get().getByteArray(21, 3);
                return Optional.of(address(0, b[0] & 0xFF, b[1] & 0xFF, b[2] & 0xFF));
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
            long simds = number(device, DEVICE_SIMD_PER_COMPUTE_UNIT_AMD).orElse(0L);
            return (int) (simds * number(device, DEVICE_SIMD_WIDTH_AMD).orElse(0L));
        }
        return 0;
    }

    private String platformName(Pointer platform) {
        SizeT.Ref size = new SizeT.Ref(0);
        if (calls.clGetPlatformInfo(platform, PLATFORM_NAME, new SizeT(0), null, size) != 0 || size.value() == 0) {
            return "";
        }
        Memory text = new Memory(size.value());
        return calls.clGetPlatformInfo(platform, PLATFORM_NAME, new SizeT(size.value()), text, null) == 0
                ? text.getString(0, StandardCharsets.UTF_8.name()).strip()
                : "";
    }

    private String text(Pointer device, int name) {
        return info(device, name)
                .map(m -> m.getString(0, StandardCharsets.UTF_8.name()).strip())
                .orElse("");
    }

    /** Whatever width the driver gives the number. */
    private Optional<Long> number(Pointer device, int name) {
        return info(device, name)
                .filter(m -> m.size() == Integer.BYTES || m.size() == Long.BYTES)
                .map(m -> m.size() == Integer.BYTES ? Integer.toUnsignedLong(m.getInt(0)) : m.getLong(0));
    }

    /** Empty where the device does not know the question, as with questions of an extension. */
    private Optional<Memory> info(Pointer device, int name) {
        SizeT.Ref size = new SizeT.Ref(0);
        if (calls.clGetDeviceInfo(device, name, new SizeT(0), null, size) != 0 || size.value() == 0) {
            return Optional.empty();
        }
        Memory value = new Memory(size.value());
        return calls.clGetDeviceInfo(device, name, new SizeT(size.value()), value, null) == 0
                ? Optional.of(value)
                : Optional.empty();
    }

    private static void check(String call, int code) {
        if (code != 0) {
            throw OpenClException.ofCall(call, code);
        }
    }
}

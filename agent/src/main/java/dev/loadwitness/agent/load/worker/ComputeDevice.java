// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.worker;

import dev.loadwitness.runlog.PciAddress;
import java.util.ArrayList;
import java.util.List;
import java.util.Locale;
import java.util.Optional;

/**
 * A device that OpenCL offers, as it describes itself, within bounds: what no device can be is refused.
 *
 * @param platform place of its platform in the loader's list
 * @param index place in its platform's list
 * @param driver version of the driver, with the platform's name
 * @param pciAddress for example {@code 0000:01:00.0}; empty where the driver does not tell
 * @param memoryBytes global memory
 * @param allocationBytes largest single buffer
 * @param hostMemory whether it shares the machine's main memory
 * @param vectorWidth floats that one instruction works on, as the driver prefers
 * @param lanes multiply-adds that one compute unit begins in a clock; 0 where that is not known
 */
public record ComputeDevice(
        int platform,
        int index,
        Type type,
        String name,
        String vendor,
        String driver,
        Optional<String> pciAddress,
        long memoryBytes,
        long allocationBytes,
        boolean hostMemory,
        int computeUnits,
        int clockMegahertz,
        int workGroup,
        int vectorWidth,
        int lanes) {
    /** What kind of processor it is. */
    public enum Type {
        GPU,
        CPU,
        OTHER
    }

    /** More than any machine has. */
    public static final int MOST_PLATFORMS = 64;

    /** More than any driver offers. */
    public static final int MOST_DEVICES = 256;

    private static final long LEAST_BYTES = 1L << 20;
    private static final long MOST_BYTES = 1L << 44;
    private static final int MOST_UNITS = 1 << 14;
    private static final int MOST_MEGAHERTZ = 100_000;
    private static final int MOST_ITEMS = 1 << 20;
    private static final int MOST_LANES = 1 << 14;

    private static final String SEPARATOR = "\t";
    private static final int FIELDS = 15;

    public ComputeDevice {
        within("platform", platform, 0, MOST_PLATFORMS - 1);
        within("number", index, 0, MOST_DEVICES - 1);
        within("bytes of memory", memoryBytes, LEAST_BYTES, MOST_BYTES);
        within("bytes in one buffer", allocationBytes, LEAST_BYTES, memoryBytes);
        within("compute units", computeUnits, 1, MOST_UNITS);
        within("megahertz", clockMegahertz, 0, MOST_MEGAHERTZ);
        within("items in a work-group", workGroup, 1, MOST_ITEMS);
        within("floats in a vector", vectorWidth, 0, MOST_LANES);
        within("lanes", lanes, 0, MOST_LANES);
        if (pciAddress.isPresent() && !PciAddress.is(pciAddress.get())) {
            throw new IllegalArgumentException("its address on the PCI bus is none");
        }
    }

    private static void within(String what, long number, long least, long most) {
        if (number < least || number > most) {
            throw new IllegalArgumentException(
                    "its " + what + " are " + number + ", which is not from " + least + " to " + most);
        }
    }

    /** How a worker is told which one to open. */
    public String key() {
        return platform + ":" + index;
    }

    /** Multiply-adds counted as two, at the highest clock that the driver tells; empty where it or the lanes are not known. */
    public Optional<Double> peakGflops() {
        return lanes == 0 || clockMegahertz == 0
                ? Optional.empty()
                : Optional.of(2e-3 * computeUnits * lanes * clockMegahertz);
    }

    /** For people: name, driver, address. */
    public String describe() {
        return name + " (" + driver + pciAddress.map(a -> ", " + a).orElse("") + ")";
    }

    public String toLine() {
        List<String> fields = new ArrayList<>(List.of(
                Integer.toString(platform),
                Integer.toString(index),
                type.name(),
                name,
                vendor,
                driver,
                pciAddress.orElse(""),
                Long.toString(memoryBytes),
                Long.toString(allocationBytes),
                Boolean.toString(hostMemory),
                Integer.toString(computeUnits),
                Integer.toString(clockMegahertz),
                Integer.toString(workGroup),
                Integer.toString(vectorWidth),
                Integer.toString(lanes)));
        fields.replaceAll(f -> f.replaceAll("[\\p{Cntrl}]", " ").strip());
        return String.join(SEPARATOR, fields);
    }

    public static ComputeDevice ofLine(String line) {
        String[] f = line.split(SEPARATOR, -1);
        if (f.length != FIELDS) {
            throw new IllegalArgumentException("a device has " + FIELDS + " facts, this has " + f.length);
        }
        return new ComputeDevice(
                Integer.parseInt(f[0]),
                Integer.parseInt(f[1]),
                Type.valueOf(f[2]),
                f[3],
                f[4],
                f[5],
                f[6].isEmpty() ? Optional.empty() : Optional.of(f[6].toLowerCase(Locale.ROOT)),
                Long.parseLong(f[7]),
                Long.parseLong(f[8]),
                Boolean.parseBoolean(f[9]),
                Integer.parseInt(f[10]),
                Integer.parseInt(f[11]),
                Integer.parseInt(f[12]),
                Integer.parseInt(f[13]),
                Integer.parseInt(f[14]));
    }
}

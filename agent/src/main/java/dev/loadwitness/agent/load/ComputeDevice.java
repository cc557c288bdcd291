// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load;

import static java.util.Objects.requireNonNull;

import java.util.ArrayList;
import java.util.List;
import java.util.Locale;
import java.util.Optional;

/**
 * A device that OpenCL offers, as it describes itself.
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

    private static final String SEPARATOR = "\t";
    private static final int FIELDS = 15;

    public ComputeDevice {
        requireNonNull(type, "type");
        requireNonNull(name, "name");
        requireNonNull(vendor, "vendor");
        requireNonNull(driver, "driver");
        requireNonNull(pciAddress, "pciAddress");
    }

    /** How a worker is told which one to open. */
    String key() {
        return platform + ":" + index;
    }

    /** Multiply-adds counted as two, at the highest clock that the driver tells; empty where the lanes are not known. */
    public Optional<Double> peakGflops() {
        return lanes == 0 ? Optional.empty() : Optional.of(2e-3 * computeUnits * lanes * clockMegahertz);
    }

    /** For people: name, driver, address. */
    public String describe() {
        return name + " (" + driver + pciAddress.map(a -> ", " + a).orElse("") + ")";
    }

    String toLine() {
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

    static ComputeDevice ofLine(String line) {
        String[] f = line.split(SEPARATOR, -1);
        if (f.length != FIELDS) {
            throw new IllegalArgumentException("a device has " + FIELDS + " facts, this has " + f.length + ": " + line);
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

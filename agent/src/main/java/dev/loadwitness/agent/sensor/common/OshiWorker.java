// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.common;

import java.io.PrintStream;
import java.nio.charset.StandardCharsets;
import java.util.List;
import org.jspecify.annotations.Nullable;
import oshi.hardware.CentralProcessor.ProcessorIdentifier;
import oshi.hardware.HWDiskStore;
import oshi.hardware.HardwareAbstractionLayer;
import oshi.hardware.PowerSource;
import oshi.nativefree.SystemInfo;
import oshi.software.os.OperatingSystem;

/**
 * Asks OSHI who the machine is and prints what it says, a fact a line: group, name and text between tabs. A process of its
 * own, since OSHI starts programs by name, and whose search path leads nowhere, so that none is found.
 *
 * <p>Not asked: graphics cards, whose configuration space must not be read while they sleep, and memory modules, which
 * OSHI knows only from a program that it starts.
 */
public final class OshiWorker {
    private static final long BYTES_PER_MEBIBYTE = 1L << 20;

    private final PrintStream out;

    private OshiWorker(PrintStream out) {
        this.out = out;
    }

    public static void main(String[] arguments) {
        OshiWorker worker = new OshiWorker(new PrintStream(System.out, true, StandardCharsets.UTF_8));
        SystemInfo system = new SystemInfo();
        HardwareAbstractionLayer hardware = system.getHardware();
        // Whatever one group's files do must not cost the others.
        for (Runnable group : List.<Runnable>of(
                () -> worker.os(system.getOperatingSystem()),
                () -> worker.cpu(hardware),
                () -> worker.memory(hardware),
                () -> worker.storage(hardware),
                () -> worker.power(hardware))) {
            try {
                group.run();
            } catch (RuntimeException | LinkageError e) {
                worker.fact("failed", e.getClass().getSimpleName(), String.valueOf(e.getMessage()));
            }
        }
        worker.fact(OshiFacts.END, "", "");
    }

    private void os(OperatingSystem system) {
        fact("os", "family", system.getFamily());
        fact("os", "version", system.getVersionInfo().getVersion());
        fact("os", "build", system.getVersionInfo().getBuildNumber());
    }

    private void cpu(HardwareAbstractionLayer hardware) {
        ProcessorIdentifier processor = hardware.getProcessor().getProcessorIdentifier();
        fact("cpu", "name", processor.getName());
        fact("cpu", "vendor", processor.getVendor());
        fact("cpu", "identifier", processor.getIdentifier());
        fact("cpu", "cores", Integer.toString(hardware.getProcessor().getPhysicalProcessorCount()));
        fact("cpu", "threads", Integer.toString(hardware.getProcessor().getLogicalProcessorCount()));
    }

    private void memory(HardwareAbstractionLayer hardware) {
        fact("memory", "total", mebibytes(hardware.getMemory().getTotal()));
    }

    private void storage(HardwareAbstractionLayer hardware) {
        int number = 1;
        for (HWDiskStore disk : hardware.getDiskStores()) {
            fact("storage", number + ".name", disk.getName());
            fact("storage", number + ".model", disk.getModel());
            fact("storage", number + ".size", mebibytes(disk.getSize()));
            fact("storage", number + ".serial", disk.getSerial());
            number++;
        }
    }

    private void power(HardwareAbstractionLayer hardware) {
        for (PowerSource source : hardware.getPowerSources()) {
            fact("power", source.getName() + ".make", source.getManufacturer());
            fact("power", source.getName() + ".model", source.getDeviceName());
            fact("power", source.getName() + ".serial", source.getSerialNumber());
            fact("power", source.getName() + ".technology", source.getChemistry());
        }
    }

    private static String mebibytes(long bytes) {
        return bytes > 0 ? bytes / BYTES_PER_MEBIBYTE + " MiB" : "";
    }

    private void fact(String group, String name, @Nullable String text) {
        if (text != null) {
            out.print(group + "\t" + plain(name) + "\t" + plain(text) + "\n");
            out.flush();
        }
    }

    /** A text must not look like another line. */
    private static String plain(String text) {
        return text.strip().replaceAll("\\p{Cntrl}", "?");
    }
}

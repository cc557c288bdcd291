// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux.file;

import dev.loadwitness.agent.sensor.Discovery;
import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.agent.sensor.linux.LinuxSensors;
import dev.loadwitness.runlog.Channel;
import java.io.IOException;
import java.io.UncheckedIOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.LinkedHashMap;
import java.util.Map;

/**
 * Makes up a sysfs with the shapes of a laptop's, each file's content as the kernel's documents give it (a number and a
 * line feed). The real one's links are there, since components are told by where they lead.
 */
public final class Tree {
    private final Path root;

    public Tree(Path root) {
        this.root = root;
        mkdir("sys/class/hwmon");
        mkdir("sys/devices/system/cpu");
    }

    public Path root() {
        return root;
    }

    public Path path(String path) {
        return root.resolve(path);
    }

    public void mkdir(String path) {
        try {
            Files.createDirectories(root.resolve(path));
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    /** Rewrites in place, as a kernel file changes: whoever has it open sees the new content. */
    public Tree file(String path, String content) {
        try {
            Files.createDirectories(root.resolve(path).getParent());
            Files.writeString(root.resolve(path), content.isEmpty() ? "" : content + "\n");
            return this;
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    public Tree link(String path, String target) {
        try {
            Files.createDirectories(root.resolve(path).getParent());
            Files.createSymbolicLink(root.resolve(path), root.resolve(target));
            return this;
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    /** A chip of a device, with pairs of attribute name and content. Gives the chip's folder. */
    public String hwmon(int number, String device, String driver, String... attributes) {
        String folder = "sys/devices/" + device + "/hwmon/hwmon" + number;
        file(folder + "/name", driver);
        for (int i = 0; i < attributes.length; i += 2) {
            file(folder + "/" + attributes[i], attributes[i + 1]);
        }
        link("sys/class/hwmon/hwmon" + number, folder);
        link(folder + "/device", "sys/devices/" + device);
        return folder;
    }

    public void pci(String device, String pciClass, String vendor, String number) {
        file("sys/devices/" + device + "/class", pciClass);
        file("sys/devices/" + device + "/vendor", vendor);
        file("sys/devices/" + device + "/device", number);
    }

    public void supply(String name, String... attributes) {
        String folder = "sys/devices/LNXSYSTM:00/" + name + "/power_supply/" + name;
        for (int i = 0; i < attributes.length; i += 2) {
            file(folder + "/" + attributes[i], attributes[i + 1]);
        }
        link("sys/class/power_supply/" + name, folder);
    }

    public void supplyChanges(String name, String attribute, String content) {
        file("sys/class/power_supply/" + name + "/" + attribute, content);
    }

    /** A thread's place in the processor, and how often it was too hot. */
    public void cpu(
            int number, int chip, int core, String packageCount, String coreCount, String packageMs, String coreMs) {
        String folder = "sys/devices/system/cpu/cpu" + number;
        file(folder + "/topology/physical_package_id", Integer.toString(chip));
        file(folder + "/topology/core_id", Integer.toString(core));
        file(folder + "/thermal_throttle/package_throttle_count", packageCount);
        file(folder + "/thermal_throttle/core_throttle_count", coreCount);
        file(folder + "/thermal_throttle/package_throttle_total_time_ms", packageMs);
        file(folder + "/thermal_throttle/core_throttle_total_time_ms", coreMs);
    }

    public Discovery discover() {
        return LinuxSensors.discover(root);
    }

    /** One value for each channel id. A source that fails as a whole fails the test. */
    public static Map<String, Double> read(Discovery found) throws IOException {
        Map<String, Double> values = new LinkedHashMap<>();
        for (Source source : found.sources()) {
            double[] into = new double[source.channels().size()];
            source.read(into, 0);
            for (int i = 0; i < into.length; i++) {
                values.put(source.channels().get(i).id(), into[i]);
            }
        }
        return values;
    }

    public static Channel channel(Discovery found, String id) {
        return found.channels().stream()
                .filter(c -> c.id().equals(id))
                .findFirst()
                .orElseThrow(() -> new AssertionError("no channel " + id + " among "
                        + found.channels().stream().map(Channel::id).toList()));
    }

    /** The source of that name. */
    public static Source source(Discovery found, String name) {
        return found.sources().stream()
                .filter(s -> s.name().equals(name))
                .findFirst()
                .orElseThrow(() -> new AssertionError("no source " + name));
    }
}

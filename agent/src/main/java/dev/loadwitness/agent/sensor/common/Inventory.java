// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.common;

import dev.loadwitness.agent.sensor.Missing;
import java.time.Duration;
import java.util.ArrayList;
import java.util.Collections;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Set;
import java.util.function.Supplier;
import oshi.hardware.ComputerSystem;
import oshi.hardware.GraphicsCard;
import oshi.hardware.HWDiskStore;
import oshi.hardware.PhysicalMemory;
import oshi.hardware.PowerSource;
import oshi.software.os.OperatingSystem;

/** Who the machine is: facts for the header of a run, less what is to be withheld. */
public final class Inventory {
    private static final Duration LONGEST = Duration.ofSeconds(10);
    private static final List<String> GROUPS =
            List.of("machine", "firmware", "os", "cpu", "gpu", "memory", "storage", "power");
    private static final long BYTES_PER_MEBIBYTE = 1L << 20;
    private static final Set<String> SAYS_NOTHING = Set.of(
            "",
            "unknown",
            "none",
            "n/a",
            "0",
            "default string",
            "to be filled by o.e.m.",
            "not specified",
            "system manufacturer",
            "system product name",
            "system serial number",
            "not available");

    private final Map<String, Map<String, String>> facts;
    private final List<Missing> missing;
    private final Withholding withholding;

    private Inventory(Map<String, Map<String, String>> facts, List<Missing> missing, Withholding withholding) {
        this.facts = facts;
        this.missing = missing;
        this.withholding = withholding;
    }

    /**
     * Asks for at most 10 s; a group that has not answered by then is left out and {@link #missing()} says so. Starts
     * processes on some systems, so call it before the load begins.
     *
     * @param withhold {@code serial}, {@code host}, both or none
     * @param known groups already known from elsewhere: these are not asked for, but for {@code os}, where both are
     *     taken and the known facts win. On Linux that matters: OSHI may start tools that wake a sleeping GPU
     * @throws IllegalArgumentException if {@code withhold} holds another word
     */
    public static Inventory take(Set<String> withhold, Map<String, Map<String, String>> known) {
        Map<String, Supplier<Map<String, String>>> questions = new LinkedHashMap<>();
        questions.put("machine", Inventory::machine);
        questions.put("firmware", Inventory::firmware);
        questions.put("os", Inventory::os);
        questions.put("cpu", Inventory::cpu);
        questions.put("gpu", Inventory::gpus);
        questions.put("memory", Inventory::memory);
        questions.put("storage", Inventory::storage);
        questions.put("power", Inventory::power);
        questions.keySet().removeIf(group -> known.containsKey(group) && !group.equals("os"));
        return take(withhold, known, questions, LONGEST);
    }

    static Inventory take(
            Set<String> withhold,
            Map<String, Map<String, String>> known,
            Map<String, Supplier<Map<String, String>>> questions,
            Duration longest) {
        Withholding withholding = new Withholding(withhold);
        Map<String, Map<String, String>> answers = Collections.synchronizedMap(new LinkedHashMap<>());
        Map<String, String> failures = Collections.synchronizedMap(new LinkedHashMap<>());
        Thread thread = new Thread(
                () -> questions.forEach((group, question) -> {
                    try {
                        answers.put(group, question.get());
                    } catch (RuntimeException | LinkageError e) {
                        // Whatever one group's driver does must not cost the others.
                        failures.put(group, e.toString());
                    }
                }),
                "inventory");
        thread.setDaemon(true);
        thread.start();
        try {
            thread.join(Math.max(1, longest.toMillis()));
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
        }
        Map<String, Map<String, String>> all = new LinkedHashMap<>();
        List<Missing> missing = new ArrayList<>();
        for (String group : questions.keySet()) {
            Map<String, String> answer = answers.get(group);
            if (answer != null) {
                all.put(group, new LinkedHashMap<>(answer));
            } else {
                missing.add(new Missing(
                        "inventory: " + group,
                        failures.getOrDefault(group, "no answer within " + longest.toSeconds() + " s"),
                        "write what matters of it into the job sheet by hand"));
            }
        }
        known.forEach((group, texts) ->
                all.computeIfAbsent(group, g -> new LinkedHashMap<>()).putAll(texts));
        all.values().forEach(texts -> texts.values().removeIf(Inventory::saysNothing));
        withholding.learn(all);
        if (withholding.withholds(Withholding.HOST)) {
            withholding.learn(List.of(System.getProperty("user.name", "")));
        }
        Map<String, Map<String, String>> facts = new LinkedHashMap<>();
        GROUPS.stream()
                .filter(all::containsKey)
                .forEach(group -> facts.put(group, Map.of())); // the same order everywhere
        all.forEach((group, texts) -> {
            Map<String, String> kept = new LinkedHashMap<>();
            texts.forEach((name, text) -> {
                if (!withholding.isWithheld(name)) {
                    kept.put(name, withholding.scrub(text));
                }
            });
            facts.put(group, Collections.unmodifiableMap(kept));
        });
        return new Inventory(Collections.unmodifiableMap(facts), List.copyOf(missing), withholding);
    }

    /** Groups {@code machine}, {@code firmware}, {@code os}, {@code cpu}, {@code gpu}, {@code memory}, {@code storage}, {@code power}. */
    public Map<String, Map<String, String>> facts() {
        return facts;
    }

    public List<Missing> missing() {
        return missing;
    }

    /** Takes what is withheld out of other text, such as kernel messages: known names and numbers, UUIDs, MAC addresses. */
    public String scrub(String text) {
        return withholding.scrub(text);
    }

    private static Map<String, String> machine() {
        ComputerSystem computer = Oshi.system().getHardware().getComputerSystem();
        Map<String, String> facts = new LinkedHashMap<>();
        put(facts, "make", computer.getManufacturer());
        put(facts, "model", computer.getModel());
        put(facts, "serial", computer.getSerialNumber());
        put(facts, "uuid", computer.getHardwareUUID());
        put(facts, "board-make", computer.getBaseboard().getManufacturer());
        put(facts, "board-model", computer.getBaseboard().getModel());
        put(facts, "board-version", computer.getBaseboard().getVersion());
        put(facts, "board-serial", computer.getBaseboard().getSerialNumber());
        return facts;
    }

    private static Map<String, String> firmware() {
        var firmware = Oshi.system().getHardware().getComputerSystem().getFirmware();
        Map<String, String> facts = new LinkedHashMap<>();
        put(facts, "make", firmware.getManufacturer());
        put(facts, "version", firmware.getVersion());
        put(facts, "date", firmware.getReleaseDate());
        return facts;
    }

    private static Map<String, String> os() {
        OperatingSystem system = Oshi.system().getOperatingSystem();
        Map<String, String> facts = new LinkedHashMap<>();
        put(facts, "family", system.getFamily());
        put(facts, "version", system.getVersionInfo().getVersion());
        put(facts, "build", system.getVersionInfo().getBuildNumber());
        put(facts, "kernel", System.getProperty("os.version"));
        put(facts, "host", System.getenv("COMPUTERNAME")); // asking the network for it could reach outside
        return facts;
    }

    private static Map<String, String> cpu() {
        var processor = Oshi.system().getHardware().getProcessor();
        Map<String, String> facts = new LinkedHashMap<>();
        put(facts, "name", processor.getProcessorIdentifier().getName());
        put(facts, "vendor", processor.getProcessorIdentifier().getVendor());
        put(facts, "identifier", processor.getProcessorIdentifier().getIdentifier());
        put(facts, "cores", Integer.toString(processor.getPhysicalProcessorCount()));
        put(facts, "threads", Integer.toString(processor.getLogicalProcessorCount()));
        return facts;
    }

    private static Map<String, String> gpus() {
        Map<String, String> facts = new LinkedHashMap<>();
        int number = 1;
        for (GraphicsCard card : Oshi.system().getHardware().getGraphicsCards()) {
            put(facts, number + ".name", card.getName());
            put(facts, number + ".vendor", card.getVendor());
            put(facts, number + ".driver", card.getVersionInfo());
            number++;
        }
        return facts;
    }

    private static Map<String, String> memory() {
        var memory = Oshi.system().getHardware().getMemory();
        Map<String, String> facts = new LinkedHashMap<>();
        put(facts, "total", mebibytes(memory.getTotal()));
        int number = 1;
        for (PhysicalMemory module : memory.getPhysicalMemory()) {
            put(facts, number + ".slot", module.getBankLabel());
            put(facts, number + ".size", mebibytes(module.getCapacity()));
            put(facts, number + ".type", module.getMemoryType());
            put(facts, number + ".make", module.getManufacturer());
            put(facts, number + ".part", module.getPartNumber());
            put(facts, number + ".serial", module.getSerialNumber());
            number++;
        }
        return facts;
    }

    private static Map<String, String> storage() {
        Map<String, String> facts = new LinkedHashMap<>();
        int number = 1;
        for (HWDiskStore disk : Oshi.system().getHardware().getDiskStores()) {
            put(facts, number + ".name", disk.getName());
            put(facts, number + ".model", disk.getModel());
            put(facts, number + ".size", mebibytes(disk.getSize()));
            put(facts, number + ".serial", disk.getSerial());
            number++;
        }
        return facts;
    }

    private static Map<String, String> power() {
        Map<String, String> facts = new LinkedHashMap<>();
        int number = 1;
        for (PowerSource source : Oshi.system().getHardware().getPowerSources()) {
            put(facts, number + ".name", source.getName());
            put(facts, number + ".make", source.getManufacturer());
            put(facts, number + ".model", source.getDeviceName());
            put(facts, number + ".serial", source.getSerialNumber());
            put(facts, number + ".technology", source.getChemistry());
            number++;
        }
        return facts;
    }

    private static String mebibytes(long bytes) {
        return bytes > 0 ? bytes / BYTES_PER_MEBIBYTE + " MiB" : "";
    }

    private static void put(Map<String, String> facts, String name, String text) {
        if (text != null) {
            facts.put(name, text.strip().replaceAll("\\p{Cntrl}", "?"));
        }
    }

    /** What makers and OSHI write where they have nothing to write. */
    private static boolean saysNothing(String text) {
        return SAYS_NOTHING.contains(text.strip().toLowerCase(Locale.ROOT));
    }
}

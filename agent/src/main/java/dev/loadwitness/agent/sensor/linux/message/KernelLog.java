// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux.message;

import dev.loadwitness.agent.process.SpareThread;
import dev.loadwitness.agent.sensor.Discovery;
import dev.loadwitness.agent.sensor.Missing;
import dev.loadwitness.agent.sensor.SensorFact;
import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.agent.sensor.linux.file.PciDevice;
import dev.loadwitness.agent.sensor.linux.file.Sysfs;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Role;
import java.io.IOException;
import java.io.InputStream;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.HashMap;
import java.util.HashSet;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.Queue;
import java.util.Set;
import java.util.concurrent.ConcurrentLinkedQueue;
import java.util.concurrent.TimeUnit;
import java.util.function.LongSupplier;
import java.util.function.UnaryOperator;

/**
 * Follows the kernel's messages from the moment it is opened: {@code /dev/kmsg}, whose records and their fields are in
 * {@code Documentation/ABI/testing/dev-kmsg}. It has no channels, only facts. Of a storm of one kind the first ten are
 * told, then one every ten seconds with the number of those left out.
 */
public final class KernelLog implements Source {
    static final String NAME = "kmsg";
    private static final int RECORD_BYTES = 16 << 10;
    private static final int MOST_AT_ONCE = 10;
    private static final long REFILL_NANOS = TimeUnit.SECONDS.toNanos(10);

    /** A read that waited so long has come to the end of what was there before. */
    private static final long WAITED_NANOS = TimeUnit.MILLISECONDS.toNanos(200);

    private static final long ONE_RESET_NANOS = TimeUnit.SECONDS.toNanos(30);
    private static final int LONGEST_TEXT = 500;

    private final InputStream in;
    private final Map<String, Role> roles;
    private final Map<String, Role> usb;
    private final UnaryOperator<String> scrub;
    private final LongSupplier nanoClock;
    private final long openedMicros;
    private final Queue<SensorFact> facts = new ConcurrentLinkedQueue<>();
    private final Map<String, Allowance> allowances = new HashMap<>();
    private final Set<String> lost = new HashSet<>();
    private final Map<String, Long> lastReset = new HashMap<>();
    private boolean caughtUp;
    private long lastNumber = -1;
    private volatile String failure = "";

    /** How many more messages of one kind may be told. */
    private static final class Allowance {
        private double left = MOST_AT_ONCE;
        private long sinceNanos;
        private long suppressed;
        private Map<String, Object> last = Map.of();
    }

    /**
     * Begins to follow, on a thread of its own that may wait for good.
     *
     * @param roles of GPUs and their bridges, by address
     * @param scrub takes out of a text what is withheld
     * @param nanoClock the monotonic clock, on which the kernel's time stamps are (nearly)
     */
    KernelLog(
            InputStream in,
            Map<String, Role> roles,
            Map<String, Role> usb,
            UnaryOperator<String> scrub,
            LongSupplier nanoClock) {
        this.in = in;
        this.roles = Map.copyOf(roles);
        this.usb = Map.copyOf(usb);
        this.scrub = scrub;
        this.nanoClock = nanoClock;
        openedMicros = TimeUnit.NANOSECONDS.toMicros(nanoClock.getAsLong());
        SpareThread.start("kernel log", this::follow);
    }

    public static Discovery find(Path root, UnaryOperator<String> scrub) {
        Path file = root.resolve("dev/kmsg");
        try {
            // On Linux, Java's nanoTime is the kernel's monotonic clock; if that should change, the wait still tells.
            return new Discovery(
                    List.of(new KernelLog(Files.newInputStream(file), roles(root), usb(root), scrub, System::nanoTime)),
                    List.of());
        } catch (IOException e) {
            String why = Sysfs.whyUnreadable(file);
            return new Discovery(
                    List.of(),
                    List.of(new Missing(
                            "messages of the kernel",
                            why.isEmpty() ? String.valueOf(e.getMessage()) : why,
                            "run as root: without it, faults of the GPU's driver, of the bus, of memory and of disks that"
                                    + " only the kernel reports are not in the log")));
        }
    }

    private static Map<String, Role> roles(Path root) {
        Map<String, Role> roles = new HashMap<>();
        for (PciDevice gpu : PciDevice.gpus(root)) {
            roles.put(gpu.address(), gpu.gpuRole());
            gpu.bridges().forEach(b -> roles.putIfAbsent(b.address(), gpu.gpuRole()));
        }
        return roles;
    }

    /** What hangs on which port, by the classes of its interfaces (USB-IF's list of class codes). */
    private static Map<String, Role> usb(Path root) {
        Map<String, Role> usb = new LinkedHashMap<>();
        for (Path entry : Sysfs.list(root.resolve("sys/bus/usb/devices"))) {
            String name = entry.getFileName().toString();
            int colon = name.indexOf(':');
            if (colon > 0) {
                Optional<Role> role =
                        switch (Sysfs.text(entry.resolve("bInterfaceClass"))) {
                            case "03" -> Optional.of(Role.INPUT);
                            case "08" -> Optional.of(Role.STORAGE);
                            case "02", "e0" -> Optional.of(Role.NETWORK);
                            default -> Optional.empty();
                        };
                role.ifPresent(r -> usb.putIfAbsent(name.substring(0, colon), r));
            }
        }
        return usb;
    }

    private void follow() {
        byte[] buffer = new byte[RECORD_BYTES];
        StringBuilder pending = new StringBuilder();
        try (in) {
            while (true) {
                long begin = nanoClock.getAsLong();
                int got = read(buffer);
                if (got < 0) {
                    failure = "the kernel's log ended";
                    return;
                }
                caughtUp |= nanoClock.getAsLong() - begin > WAITED_NANOS;
                pending.append(new String(buffer, 0, got, StandardCharsets.UTF_8));
                for (int end = pending.indexOf("\n"); end >= 0; end = pending.indexOf("\n")) {
                    line(pending.substring(0, end));
                    pending.delete(0, end + 1);
                }
            }
        } catch (IOException | RuntimeException e) {
            failure = "the kernel's log cannot be read any more: " + e.getMessage();
        }
    }

    /** The next record. One that was overwritten before it could be read is an error once, and then comes the next. */
    private int read(byte[] buffer) throws IOException {
        try {
            return in.read(buffer);
        } catch (IOException e) {
            return in.read(buffer);
        }
    }

    /** {@code PRIORITY,NUMBER,MICROSECONDS,FLAGS[,…];TEXT}; lines that begin with a space belong to the one before. */
    private void line(String line) {
        int semicolon = line.indexOf(';');
        String[] head =
                semicolon < 0 ? new String[0] : line.substring(0, semicolon).split(",", -1);
        if (line.startsWith(" ") || head.length < 3) {
            return;
        }
        int level;
        long number;
        long micros;
        try {
            level = Integer.parseInt(head[0]) & 7;
            number = Long.parseLong(head[1]);
            micros = Long.parseLong(head[2]);
        } catch (NumberFormatException e) {
            return; // not a record of the kernel
        }
        long missed = lastNumber < 0 ? 0 : number - lastNumber - 1;
        lastNumber = number;
        if (!caughtUp && micros < openedMicros) {
            return; // from before
        }
        if (missed > 0) {
            offer("messages-lost", Map.of("text", missed + " messages of the kernel were overwritten unread"));
        }
        String text = line.substring(semicolon + 1);
        KernelMessage.of(text, level, roles, usb).ifPresent(message -> tell(message, clean(text)));
    }

    private String clean(String text) {
        String scrubbed = scrub.apply(Sysfs.printable(text));
        return scrubbed.length() <= LONGEST_TEXT ? scrubbed : scrubbed.substring(0, LONGEST_TEXT);
    }

    private void tell(KernelMessage message, String text) {
        Map<String, Object> named = new LinkedHashMap<>();
        named.put("text", text);
        message.role().ifPresent(role -> named.put("role", role.word()));
        if (!message.device().isEmpty()) {
            named.put("device", message.device());
        }
        message.xid().ifPresent(xid -> {
            named.put("code", (double) xid);
            named.put("meaning", message.meaning());
        });
        offer(message.fault(), named);
        also(message, text);
    }

    /** What has an event kind of its own. */
    private void also(KernelMessage message, String text) {
        Map<String, Object> named = new LinkedHashMap<>();
        named.put("role", message.role().map(Role::word).orElse(""));
        named.put("device", message.device());
        switch (message.fault()) {
            case KernelMessage.OFF_THE_BUS -> {
                if (lost.add(message.device())) {
                    named.put("detail", text);
                    add(EventKind.DEVICE_LOST, named);
                }
            }
            case KernelMessage.GPU_RESET -> {
                // One reset writes several lines.
                long now = nanoClock.getAsLong();
                Long before = lastReset.get(message.device());
                if (before == null || now - before > ONE_RESET_NANOS) {
                    lastReset.put(message.device(), now);
                    named.put("detail", text);
                    add(EventKind.DRIVER_RESET, named);
                }
            }
            case KernelMessage.DISCONNECTED -> {
                if (message.role().isPresent()) {
                    add(EventKind.DEVICE_LEFT, named);
                }
            }
            case KernelMessage.CONNECTED -> add(EventKind.DEVICE_ARRIVED, named);
            default -> {
                // The message says it all.
            }
        }
    }

    private synchronized void offer(String fault, Map<String, Object> named) {
        Map<String, Object> all = new LinkedHashMap<>(named);
        if (!fault.isEmpty()) {
            all.put("fault", fault);
        }
        Allowance allowance = allowances.computeIfAbsent(fault, f -> new Allowance());
        refill(allowance);
        if (allowance.left >= 1) {
            allowance.left--;
            add(EventKind.KERNEL_MESSAGE, all);
        } else {
            allowance.suppressed++;
            allowance.last = all;
        }
    }

    private void refill(Allowance allowance) {
        long now = nanoClock.getAsLong();
        if (allowance.sinceNanos != 0) {
            allowance.left =
                    Math.min(MOST_AT_ONCE, allowance.left + (double) (now - allowance.sinceNanos) / REFILL_NANOS);
        }
        allowance.sinceNanos = now;
    }

    /** Of a storm, the last message with the number of all that were left out before it. */
    private synchronized void tellSuppressed() {
        for (Allowance allowance : allowances.values()) {
            refill(allowance);
            if (allowance.suppressed > 0 && allowance.left >= 1) {
                allowance.left--;
                Map<String, Object> all = new LinkedHashMap<>(allowance.last);
                all.put("count", (double) allowance.suppressed);
                allowance.suppressed = 0;
                add(EventKind.KERNEL_MESSAGE, all);
            }
        }
    }

    private void add(EventKind kind, Map<String, Object> named) {
        facts.add(new SensorFact.Noticed(NAME, kind, named));
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
    public List<SensorFact> takeFacts() {
        tellSuppressed();
        List<SensorFact> now = new ArrayList<>();
        for (SensorFact f = facts.poll(); f != null; f = facts.poll()) {
            now.add(f);
        }
        return now;
    }

    /** Nothing to read; a log that cannot be followed any more is a source that is silent. */
    @Override
    public void read(double[] into, int from) throws IOException {
        if (!failure.isEmpty()) {
            throw new IOException(failure);
        }
    }

    /** The thread goes on until the program ends: closing the file would wait for the read inside it. */
    @Override
    public void close() {
        // Nothing that could be closed without waiting.
    }
}

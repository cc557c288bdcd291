// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import dev.loadwitness.agent.sensor.Discovery;
import dev.loadwitness.agent.sensor.GraphicsPart;
import dev.loadwitness.agent.sensor.Missing;
import dev.loadwitness.agent.sensor.Wake;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Role;
import java.io.IOException;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.Collection;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.TreeMap;
import java.util.function.LongSupplier;
import java.util.stream.Collectors;

/** The door to this package. */
public final class GpuSensors {
    private static final String VENDOR = "10de";
    private static final String WHAT = "readings of the GPU's own library";

    private GpuSensors() {}

    /**
     * {@code found}, with the readings of NVIDIA's management library added where there is such a part. Opens the library,
     * in another process, only if that disturbs no sleep or {@code wake} allows it; takes up to 15 s.
     *
     * @param parts of all makers, as the bus shows them
     */
    public static Discovery completing(Discovery found, List<GraphicsPart> parts, Wake wake) {
        List<GraphicsPart> ours =
                parts.stream().filter(p -> p.vendor().equals(VENDOR)).toList();
        Optional<Path> library = LibraryLocation.find();
        if (ours.isEmpty() && (library.isEmpty() || !LibraryLocation.driverIsThere())) {
            return found; // nothing to say about parts that are not there
        }
        if (library.isEmpty()) {
            return missing(
                    found,
                    "there is none of "
                            + LibraryLocation.CANDIDATES.stream()
                                    .map(Path::toString)
                                    .collect(Collectors.joining(", ")),
                    "install the maker's driver; without it there are no power, no limits and no causes of throttling");
        }
        return completing(found, ours, wake, library.get(), GpuSource.Patience.USUAL, System::nanoTime);
    }

    static Discovery completing(
            Discovery found,
            List<GraphicsPart> parts,
            Wake wake,
            Path library,
            GpuSource.Patience patience,
            LongSupplier nanoClock) {
        boolean asleep = parts.stream().anyMatch(p -> p.sleep().isAsleep());
        boolean disturbs = parts.stream().anyMatch(p -> p.sleep().isDisturbedByAsking());
        if (disturbs && (wake == Wake.NEVER || (wake == Wake.IF_AWAKE && asleep))) {
            return missing(
                    found,
                    asleep ? "the GPU is asleep, and asking would wake it" : "asking would keep the GPU from its sleep",
                    "a run with a stage on the discrete GPU wakes it by itself; 'probe --wake' wakes it to look");
        }
        ServerProcess server;
        try {
            server = ServerProcess.start(library);
        } catch (IOException e) {
            return missing(found, "its process cannot be started: " + e.getMessage(), "report this");
        }
        OpenAnswer answer;
        try {
            server.ask(GpuSource.question(parts));
            List<String> lines = server.await(patience.openNanos());
            if (lines == null) {
                throw new IOException("it did not open within its time");
            }
            answer = OpenAnswer.of(lines, GpuSource.addresses(parts));
        } catch (IOException e) {
            server.close();
            return missing(
                    found, library + ": " + e.getMessage(), "the driver hangs or crashes: look at the kernel's log");
        } catch (InterruptedException e) {
            server.close();
            Thread.currentThread().interrupt();
            return missing(found, "interrupted", "start again");
        }
        List<Missing> missing = new ArrayList<>(missing(answer));
        List<Channel> channels = channels(answer, parts, found.channels());
        if (channels.isEmpty()) {
            server.close();
            if (!answer.failure().isEmpty()) {
                missing.add(new Missing(
                        WHAT, library + ": " + answer.failure(), "mend the driver's installation, or go on without"));
            }
            return found.and(new Discovery(List.of(), missing));
        }
        GpuSource source = new GpuSource(
                library,
                parts,
                channels,
                wake == Wake.IF_AWAKE,
                patience,
                nanoClock,
                new GpuSource.Opened(server, answer));
        return found.and(new Discovery(List.of(source), missing));
    }

    private static Discovery missing(Discovery found, String why, String whatToDo) {
        return found.and(new Discovery(List.of(), List.of(new Missing(WHAT, why, whatToDo))));
    }

    private static List<Channel> channels(OpenAnswer answer, List<GraphicsPart> parts, Collection<Channel> taken) {
        List<Channel> channels = new ArrayList<>();
        // By place on the bus, so that ids are the same at every boot.
        Map<String, OpenAnswer.Gpu> byAddress = new TreeMap<>();
        answer.gpus().forEach(g -> byAddress.put(g.address(), g));
        byAddress.values().forEach(gpu -> {
            Role role = parts.stream()
                    .filter(p -> p.address().equals(gpu.address()))
                    .map(GraphicsPart::role)
                    .findFirst()
                    .orElse(Role.GPU_DISCRETE);
            String prefix = role.word();
            for (int n = 2; belongsToAnother(gpu, prefix, taken) || belongsToAnother(gpu, prefix, channels); n++) {
                prefix = role.word() + "-" + n;
            }
            String free = prefix;
            gpu.offers().forEach(o -> channels.add(o.channel(free, role, gpu.address(), GpuSource.NAME)));
        });
        return channels;
    }

    /** Components are addresses, or device paths that end with one. */
    private static boolean belongsToAnother(OpenAnswer.Gpu gpu, String prefix, Collection<Channel> channels) {
        return channels.stream()
                .filter(c -> c.id().startsWith(prefix + "."))
                .anyMatch(c -> !c.component().endsWith(gpu.address()));
    }

    private static List<Missing> missing(OpenAnswer answer) {
        List<Missing> missing = new ArrayList<>();
        answer.unreachable()
                .forEach((address, code) -> missing.add(new Missing(
                        "GPU " + address,
                        "the library says: " + Code.text(code),
                        "the part or its link is at fault if this stays so after a cold start")));
        for (OpenAnswer.Gpu gpu : answer.gpus()) {
            Map<Integer, List<String>> byCode = new TreeMap<>();
            gpu.absent()
                    .forEach((what, code) ->
                            byCode.computeIfAbsent(code, c -> new ArrayList<>()).add(what));
            byCode.forEach((code, names) -> missing.add(new Missing(
                    "GPU " + gpu.address() + ": " + String.join(", ", names),
                    "the library says: " + Code.text(code),
                    code == Code.NO_PERMISSION
                            ? "run as root"
                            : "what rests on them is not measured on this part and driver")));
        }
        return missing;
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import dev.loadwitness.agent.process.Parent;
import dev.loadwitness.runlog.PciAddress;
import java.io.IOException;
import java.io.OutputStream;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.HashSet;
import java.util.List;
import java.util.Locale;
import java.util.Set;
import java.util.concurrent.BlockingQueue;
import java.util.concurrent.LinkedBlockingQueue;
import org.jspecify.annotations.Nullable;

/** Entry point of the process that asks the library; the protocol is described with the package. */
public final class GpuServer {
    private static final int MOST_TEXT = 300;

    /** What the last line of each answer begins with; the number of its question follows. */
    static final String END = "end\t";

    static final String OTHER_READINGS = "the driver was restarted and offers other readings now";

    private final Path library;
    private final BlockingQueue<String> questions = new LinkedBlockingQueue<>();
    private final OutputStream out;

    private @Nullable Nvml nvml;
    private List<String> addresses = List.of();
    private final List<GpuReader> readers = new ArrayList<>();

    private GpuServer(Path library, OutputStream out) {
        this.library = library;
        this.out = out;
    }

    /**
     * Serves until it is told to stop, or its parent is gone.
     *
     * @param args the library's absolute path
     */
    public static void main(String[] args) throws InterruptedException, IOException {
        GpuServer server = new GpuServer(Path.of(args[0]), out());
        Parent.hear(server.questions::add).mustBeat();
        server.serve();
    }

    private static OutputStream out() throws IOException {
        try {
            return Outlet.takeOver();
        } catch (LinkageError e) {
            return System.out; // there is no native code at all: opening the library says so
        }
    }

    private void serve() throws InterruptedException {
        while (true) {
            String[] words = questions.take().split("\t", -1);
            List<String> answer = new ArrayList<>();
            switch (words[1]) {
                case "open" -> {
                    addresses = Arrays.asList(words).subList(2, words.length);
                    open(answer);
                }
                case "read" -> read(answer);
                default -> answer.add(failed("there is no question '" + words[1] + "'"));
            }
            answer.add(END + words[0]);
            try {
                out.write((String.join("\n", answer) + "\n").getBytes(StandardCharsets.US_ASCII));
                out.flush();
            } catch (IOException e) {
                Runtime.getRuntime().halt(Parent.EXIT_ORPHANED); // nobody listens any more
            }
        }
    }

    private void open(List<String> answer) {
        try {
            nvml = nvml == null ? new Nvml(library, Nvml.Watch.NONE) : nvml;
        } catch (IOException | LinkageError e) {
            answer.add(failed(plain(String.valueOf(e.getMessage()))));
            return;
        }
        int code = nvml.init();
        if (code != Code.SUCCESS) {
            answer.add(failed("initialisation: " + Code.text(code)));
            return;
        }
        Answer count = addresses.isEmpty() ? nvml.count() : Answer.of(Code.SUCCESS, addresses.size());
        if (!count.isThere() || count.value() > Nvml.MOST_GPUS) {
            answer.add(failed(
                    count.isThere()
                            ? String.format(
                                    Locale.ROOT, "it counts %.0f GPUs, more than %d", count.value(), Nvml.MOST_GPUS)
                            : "counting the GPUs: " + Code.text(count.code())));
            return;
        }
        String driver = nvml.driverVersion();
        readers.clear();
        for (Found found : addresses.isEmpty() ? byNumber(nvml, (int) count.value()) : byAddress(nvml)) {
            if (found.device.code() != Code.SUCCESS) {
                answer.add("unreachable\t" + found.address + "\t" + found.device.code());
                continue;
            }
            GpuReader reader = new GpuReader(nvml, found.device.handle(), found.address, driver, GpuReader.SLOW_NANOS);
            readers.add(reader);
            answer.add("gpu\t" + found.address);
            reader.offers().forEach(offer -> answer.add(offer.toLine()));
            reader.absent().forEach((what, why) -> answer.add("absent\t" + what + "\t" + why));
        }
        answer.add("opened");
    }

    private record Found(String address, Nvml.Device device) {}

    private List<Found> byAddress(Nvml nvml) {
        return addresses.stream().map(a -> new Found(a, nvml.byAddress(a))).toList();
    }

    private List<Found> byNumber(Nvml nvml, int count) {
        List<Found> found = new ArrayList<>();
        Set<String> taken = new HashSet<>();
        for (int i = 0; i < count; i++) {
            Nvml.Device device = nvml.byIndex(i);
            String told = device.code() == Code.SUCCESS ? nvml.address(device.handle()) : "";
            // A part that tells no address, or another's, has its number.
            boolean itsOwn = PciAddress.is(told) && taken.add(told);
            found.add(new Found(itsOwn ? told : "gpu" + i, device));
        }
        return found;
    }

    private void read(List<String> answer) {
        if (nvml == null) {
            answer.add(failed("asked before it was opened"));
            return;
        }
        double[] values =
                new double[readers.stream().mapToInt(r -> r.offers().size()).sum()];
        int worst = ask(values, answer);
        if (Code.isDriverGone(worst)) {
            answer.clear();
            reopen(nvml, worst, answer);
            return;
        }
        answer.add(line(values));
    }

    private static String line(double[] values) {
        StringBuilder line = new StringBuilder("values");
        for (double value : values) {
            line.append('\t').append(Double.isNaN(value) ? "-" : Double.toString(value));
        }
        return line.toString();
    }

    private int ask(double[] values, List<String> answer) {
        int worst = Code.SUCCESS;
        int from = 0;
        for (GpuReader reader : readers) {
            int code = reader.read(values, from);
            int size = reader.offers().size();
            if (Code.isLoss(code)) {
                answer.add("lost\t" + reader.address() + "\t" + code);
                Arrays.fill(values, from, from + size, Double.NaN);
            } else if (code != Code.SUCCESS) {
                worst = code;
            }
            from += size;
        }
        return worst;
    }

    /** The driver went away under the library. It is tried again at each question; the offers must be the same again. */
    private void reopen(Nvml nvml, int why, List<String> answer) {
        nvml.shutdown();
        List<String> before = names();
        List<String> opened = new ArrayList<>();
        open(opened);
        List<String> after = names();
        String last = opened.get(opened.size() - 1);
        if (last.startsWith("failed")) {
            answer.add(last);
        } else if (!after.equals(before)) {
            // Whoever asked must learn the new order, by a process of its own.
            answer.add("restarted\tafter: " + Code.text(why));
            answer.add(failed(OTHER_READINGS));
        } else {
            answer.add("restarted\tafter: " + Code.text(why));
            double[] values = new double[after.size()];
            ask(values, answer);
            answer.add(line(values));
        }
    }

    private List<String> names() {
        return readers.stream()
                .flatMap(r -> r.offers().stream().map(o -> r.address() + " " + o.name()))
                .toList();
    }

    private static String failed(String text) {
        return "failed\t" + text;
    }

    /** What may stand in a line of the protocol. */
    private static String plain(String text) {
        String plain = text.replaceAll("[^ -~]", "?");
        return plain.substring(0, Math.min(MOST_TEXT, plain.length()));
    }
}

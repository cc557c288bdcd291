// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import java.io.BufferedReader;
import java.io.IOException;
import java.io.InputStreamReader;
import java.io.PrintStream;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;
import java.util.concurrent.BlockingQueue;
import java.util.concurrent.LinkedBlockingQueue;
import java.util.concurrent.TimeUnit;
import java.util.concurrent.atomic.AtomicLong;
import java.util.concurrent.locks.LockSupport;

/** Entry point of the process that asks the library; the protocol is described with the package. */
public final class GpuServer {
    static final long SILENCE_NANOS = TimeUnit.SECONDS.toNanos(5);
    private static final long LOOK_NANOS = TimeUnit.MILLISECONDS.toNanos(200);
    private static final int EXIT_ORPHANED = 3;

    private final Path library;
    private final BlockingQueue<String> questions = new LinkedBlockingQueue<>();
    private final AtomicLong lastHeardNanos = new AtomicLong(System.nanoTime());
    private final PrintStream out = new PrintStream(System.out, false, StandardCharsets.US_ASCII);

    private Nvml nvml;
    private List<String> addresses = List.of();
    private final List<GpuReader> readers = new ArrayList<>();

    private GpuServer(Path library) {
        this.library = library;
    }

    /**
     * Serves until it is told to stop, or its parent is gone.
     *
     * @param args the library's absolute path
     */
    public static void main(String[] args) throws InterruptedException {
        GpuServer server = new GpuServer(Path.of(args[0]));
        server.daemon("parent", server::listen);
        server.daemon("orphan watch", server::watchParent);
        server.serve();
    }

    private void daemon(String name, Runnable body) {
        Thread thread = new Thread(body, name);
        thread.setDaemon(true);
        thread.start();
    }

    private void listen() {
        try (BufferedReader in = new BufferedReader(new InputStreamReader(System.in, StandardCharsets.US_ASCII))) {
            for (String line = in.readLine(); line != null; line = in.readLine()) {
                lastHeardNanos.set(System.nanoTime());
                if (line.equals("stop")) {
                    Runtime.getRuntime().halt(0); // also out of a call that does not return
                } else if (!line.equals("beat")) {
                    questions.add(line);
                }
            }
        } catch (IOException e) {
            // The parent is gone, as at the end of its stream.
        }
        Runtime.getRuntime().halt(EXIT_ORPHANED);
    }

    private void watchParent() {
        while (System.nanoTime() - lastHeardNanos.get() < SILENCE_NANOS) {
            LockSupport.parkNanos(LOOK_NANOS);
        }
        Runtime.getRuntime().halt(EXIT_ORPHANED);
    }

    private void serve() throws InterruptedException {
        while (true) {
            String[] words = questions.take().split("\t", -1);
            List<String> answer = new ArrayList<>();
            switch (words[0]) {
                case "open" -> {
                    addresses = Arrays.asList(words).subList(1, words.length);
                    open(answer);
                }
                case "read" -> read(answer);
                default -> answer.add("failed\t-1\tthere is no question '" + words[0] + "'");
            }
            answer.forEach(line -> out.print(line + "\n"));
            out.flush();
            if (out.checkError()) {
                Runtime.getRuntime().halt(EXIT_ORPHANED); // nobody listens any more
            }
        }
    }

    private void open(List<String> answer) {
        try {
            nvml = nvml == null ? new Nvml(library, Nvml.Watch.NONE) : nvml;
        } catch (IOException | LinkageError e) {
            answer.add(failed(Code.LIBRARY_NOT_FOUND, plain(String.valueOf(e.getMessage()))));
            return;
        }
        int code = nvml.init();
        if (code != Code.SUCCESS) {
            answer.add(failed(code, "initialisation: " + Code.text(code)));
            return;
        }
        String driver = plain(nvml.driverVersion());
        readers.clear();
        for (Found found : find()) {
            if (found.device.code() != Code.SUCCESS) {
                answer.add("unreachable\t" + found.address + "\t" + found.device.code());
                continue;
            }
            GpuReader reader = new GpuReader(nvml, found.device.handle(), found.address, driver, GpuReader.SLOW_NANOS);
            readers.add(reader);
            answer.add("gpu\t" + found.address + "\t" + plain(nvml.name(found.device.handle())));
            reader.offers().forEach(offer -> answer.add(offer.toLine()));
            reader.absent().forEach((what, why) -> answer.add("absent\t" + what + "\t" + why));
        }
        answer.add("opened\t" + driver);
    }

    private record Found(String address, Nvml.Device device) {}

    private List<Found> find() {
        List<Found> found = new ArrayList<>();
        if (!addresses.isEmpty()) {
            addresses.forEach(a -> found.add(new Found(a, nvml.byAddress(a))));
            return found;
        }
        Answer count = nvml.count();
        for (int i = 0; count.isThere() && i < count.value(); i++) {
            Nvml.Device device = nvml.byIndex(i);
            String address = device.code() == Code.SUCCESS ? nvml.address(device.handle()) : "";
            found.add(new Found(address.isEmpty() ? "gpu" + i : address, device));
        }
        return found;
    }

    private void read(List<String> answer) {
        if (nvml == null) {
            answer.add(failed(Code.UNINITIALIZED, "asked before it was opened"));
            return;
        }
        double[] values =
                new double[readers.stream().mapToInt(r -> r.offers().size()).sum()];
        int worst = ask(values, answer);
        if (Code.isDriverGone(worst)) {
            answer.clear();
            reopen(worst, answer);
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
    private void reopen(int why, List<String> answer) {
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
            answer.add(failed(why, "the driver was restarted and offers other readings now"));
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

    private static String failed(int code, String text) {
        return "failed\t" + code + "\t" + text;
    }

    /** What may stand in a line of the protocol. */
    private static String plain(String text) {
        return text.replaceAll("[^ -~]", "?");
    }
}

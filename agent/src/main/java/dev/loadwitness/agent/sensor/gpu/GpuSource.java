// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.agent.sensor.GraphicsPart;
import dev.loadwitness.agent.sensor.SensorFact;
import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Metric;
import java.io.IOException;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.HashMap;
import java.util.HashSet;
import java.util.List;
import java.util.Map;
import java.util.Set;
import java.util.concurrent.TimeUnit;
import java.util.function.LongSupplier;
import java.util.stream.Collectors;
import org.jspecify.annotations.Nullable;

/**
 * All GPUs of the library, asked through a process that is ended when it hangs, started again when it dies, and not there
 * at all while a GPU may sleep.
 */
final class GpuSource implements Source {
    static final String NAME = "nvml";

    /** What can be set for tests, which cannot wait as long as a real driver may take. */
    record Patience(long hangNanos, long openNanos, long firstPauseNanos, int mostFailures) {
        static final Patience USUAL =
                new Patience(TimeUnit.SECONDS.toNanos(8), TimeUnit.SECONDS.toNanos(15), TimeUnit.SECONDS.toNanos(1), 6);
    }

    /** While it opens, each reading waits this little for it, so that the deadline of a sample is not spent. */
    private static final long LOOK_NANOS = TimeUnit.MILLISECONDS.toNanos(10);

    /** Facts that may wait; they are taken at every sample. */
    static final int MOST_FACTS = 256;

    /** A driver that must be opened anew at each of so many readings is broken, and not restarted. */
    static final int MOST_RESTARTS_IN_A_ROW = 3;

    private final Path library;
    private final List<GraphicsPart> parts;
    private final List<Channel> channels;
    private final boolean mayDisturb;
    private final Patience patience;
    private final LongSupplier nanoClock;
    private final Map<String, Integer> places = new HashMap<>();
    private final double[] lastEnergy;
    /** Facts that wait to be taken. */
    private final List<SensorFact.Noticed> facts = new ArrayList<>();

    private int factsDropped;
    private volatile boolean allowed;

    // Below: of the reading thread only.
    private @Nullable ServerProcess server;
    private boolean opening;
    private long openingSinceNanos;
    private int[] order = {};
    private Set<String> opened = Set.of();
    private int restartsInARow;
    private String failure = "";
    private int failures;
    private long notBeforeNanos;
    private final Set<String> lost = new HashSet<>();

    /**
     * @param channels all of {@link #NAME}, with their GPUs' addresses as components
     * @param mayDisturb true if parts that could sleep are asked all the same
     * @param opened a server that has been opened, to go on with; null to start one when it is needed
     */
    GpuSource(
            Path library,
            List<GraphicsPart> parts,
            List<Channel> channels,
            boolean mayDisturb,
            Patience patience,
            LongSupplier nanoClock,
            @Nullable Opened opened) {
        this.library = library;
        this.parts = List.copyOf(parts);
        this.channels = List.copyOf(channels);
        this.mayDisturb = mayDisturb;
        this.patience = patience;
        this.nanoClock = nanoClock;
        lastEnergy = new double[channels.size()];
        Arrays.fill(lastEnergy, Double.NaN);
        for (int i = 0; i < channels.size(); i++) {
            places.put(place(channels.get(i)), i);
        }
        if (opened != null) {
            server = opened.server();
            take(opened.gpus());
        }
    }

    /** A server and what it offered. */
    record Opened(ServerProcess server, OpenAnswer gpus) {}

    /** The id less its prefix would do, if prefixes had no dots; so the end of the id, and the address. */
    private static String place(Channel channel) {
        return channel.component() + " " + channel.id().substring(channel.id().indexOf('.') + 1);
    }

    private void take(OpenAnswer answer) {
        opened = answer.gpus().stream().map(OpenAnswer.Gpu::address).collect(Collectors.toSet());
        order = answer.gpus().stream()
                .flatMap(gpu -> gpu.offers().stream().map(offer -> gpu.address() + " " + offer.name()))
                .mapToInt(place -> places.getOrDefault(place, -1))
                .toArray();
    }

    @Override
    public String name() {
        return NAME;
    }

    @Override
    public List<Channel> channels() {
        return channels;
    }

    @Override
    public List<SensorFact> takeFacts() {
        synchronized (facts) {
            List<SensorFact> now = new ArrayList<>(facts);
            if (factsDropped > 0) {
                SensorFact.Noticed last = facts.get(facts.size() - 1);
                Map<String, Object> said = new HashMap<>(last.facts());
                said.put("detail", factsDropped + " more events of the GPU's library were too many to keep");
                now.add(new SensorFact.Noticed(NAME, last.kind(), said));
            }
            facts.clear();
            factsDropped = 0;
            return now;
        }
    }

    @Override
    public void allowWaking(boolean allowed) {
        this.allowed = allowed;
    }

    private boolean mayAsk() {
        return allowed || mayDisturb || parts.stream().noneMatch(p -> p.sleep().isDisturbedByAsking());
    }

    @Override
    public void read(double[] into, int from) throws IOException {
        Arrays.fill(into, from, from + channels.size(), Double.NaN);
        if (!mayAsk()) {
            letSleep();
            return;
        }
        try {
            if (server == null) {
                open();
            }
            if (opening && !finishOpening()) {
                return;
            }
            server().ask("read");
            take(await(patience.hangNanos()), into, from);
        } catch (IOException e) {
            throw new IOException(library.getFileName() + ": " + e.getMessage(), e);
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
            throw new IOException("interrupted", e);
        }
    }

    /** The library is let go of, since a process that has it open may hold the GPU awake. */
    private void letSleep() {
        if (server != null) {
            server.close();
            server = null;
        }
        opening = false;
        failure = "";
        lost.clear();
        Arrays.fill(lastEnergy, Double.NaN); // what a sleeping part's counters do is not known
    }

    private ServerProcess server() {
        return requireNonNull(server, "whoever asks has opened it");
    }

    private void open() throws IOException {
        if (failures > patience.mostFailures()) {
            throw new IOException(failure + "; given up after " + failures + " failures");
        }
        if (!failure.isEmpty() && nanoClock.getAsLong() - notBeforeNanos < 0) {
            throw new IOException(failure + "; it is started again later");
        }
        try {
            server = ServerProcess.start(library);
        } catch (IOException e) {
            throw fail("its process cannot be started: " + e.getMessage());
        }
        server.ask(question(parts));
        opening = true;
        openingSinceNanos = nanoClock.getAsLong();
    }

    static List<String> addresses(List<GraphicsPart> parts) {
        return parts.stream().map(GraphicsPart::address).toList();
    }

    static String question(List<GraphicsPart> parts) {
        StringBuilder question = new StringBuilder("open");
        addresses(parts).forEach(address -> question.append('\t').append(address));
        return question.toString();
    }

    /** False if it has not opened yet and that is no failure; a source that was silent stays so until it answers. */
    private boolean finishOpening() throws IOException, InterruptedException {
        List<String> lines = lines(LOOK_NANOS);
        if (lines == null) {
            if (nanoClock.getAsLong() - openingSinceNanos > patience.openNanos()) {
                throw fail("the library did not open within " + TimeUnit.NANOSECONDS.toSeconds(patience.openNanos())
                        + " s");
            }
            if (!failure.isEmpty()) {
                throw new IOException(failure + "; it is being started again");
            }
            return false;
        }
        OpenAnswer answer;
        try {
            answer = OpenAnswer.of(lines, addresses(parts));
        } catch (Refused e) {
            throw fail(e.getMessage());
        }
        if (!answer.failure().isEmpty()) {
            throw fail(answer.failure());
        }
        opening = false;
        take(answer);
        return true;
    }

    private List<String> await(long nanos) throws IOException, InterruptedException {
        List<String> lines = lines(nanos);
        if (lines == null) {
            throw fail("no answer within " + TimeUnit.NANOSECONDS.toMillis(nanos) + " ms; its process was ended");
        }
        return lines;
    }

    /** Null if there is no answer in time. */
    private @Nullable List<String> lines(long nanos) throws IOException, InterruptedException {
        try {
            return server().await(nanos);
        } catch (IOException e) {
            throw fail(String.valueOf(e.getMessage()));
        }
    }

    private void take(List<String> lines, double[] into, int from) throws IOException {
        ReadAnswer answer;
        try {
            answer = ReadAnswer.of(lines, opened);
        } catch (Refused e) {
            throw fail(e.getMessage());
        }
        noteLost(answer.lost());
        noteRestart(answer.restarted());
        if (answer.failure().equals(GpuServer.OTHER_READINGS)) {
            throw fail(answer.failure());
        }
        if (!answer.failure().isEmpty()) {
            failure = answer.failure(); // the server goes on trying by itself
            throw new IOException(failure);
        }
        List<Double> values = answer.values();
        if (values.size() != order.length) {
            throw fail(values.size() + " values came where " + order.length + " were offered");
        }
        for (int i = 0; i < order.length; i++) {
            if (order[i] >= 0) {
                into[from + order[i]] = values.get(i);
            }
        }
        noteBack(answer.lost().keySet());
        failure = "";
        energyFell(into, from);
    }

    private void noteLost(Map<String, Integer> lostNow) {
        lostNow.forEach((address, code) -> {
            if (lost.add(address)) {
                notice(EventKind.DEVICE_LOST, address, Code.text(code));
            }
        });
    }

    private void noteBack(Set<String> lostNow) {
        lost.stream()
                .filter(address -> !lostNow.contains(address))
                .forEach(a -> notice(EventKind.DRIVER_RESET, a, "it answers again after it was lost"));
        lost.retainAll(lostNow);
    }

    private void noteRestart(String why) throws IOException {
        restartsInARow = why.isEmpty() ? 0 : restartsInARow + 1;
        if (restartsInARow > MOST_RESTARTS_IN_A_ROW) {
            restartsInARow = 0;
            throw fail("it had to be initialised again at each of " + MOST_RESTARTS_IN_A_ROW + " readings in a row, "
                    + why);
        }
        if (!why.isEmpty()) {
            addressesOfAll()
                    .forEach(a -> notice(EventKind.DRIVER_RESET, a, "the library had to be initialised again, " + why));
        }
    }

    /** The energy counts from the loading of the driver: a fall means that the driver was loaded anew. */
    private void energyFell(double[] into, int from) {
        for (int i = 0; i < channels.size(); i++) {
            Channel channel = channels.get(i);
            double now = into[from + i];
            if (!channel.measures(Metric.ENERGY) || Double.isNaN(now)) {
                continue;
            }
            if (now < lastEnergy[i]) {
                notice(
                        EventKind.DRIVER_RESET,
                        channel.component(),
                        "its energy counter fell from " + lastEnergy[i] + " J to " + now + " J");
            }
            lastEnergy[i] = now;
        }
    }

    private List<String> addressesOfAll() {
        return channels.stream().map(Channel::component).distinct().toList();
    }

    private void notice(EventKind kind, String address, String detail) {
        String role = channels.stream()
                .filter(c -> c.component().equals(address))
                .map(c -> c.role().word())
                .findFirst()
                .orElse("");
        synchronized (facts) {
            if (facts.size() == MOST_FACTS) {
                factsDropped++;
            } else {
                facts.add(
                        new SensorFact.Noticed(NAME, kind, Map.of("role", role, "device", address, "detail", detail)));
            }
        }
    }

    /** Ends the process, and sets the time before which no other is started: twice as long after each failure. */
    private IOException fail(String why) {
        if (server != null) {
            server.close();
            server = null;
        }
        opening = false;
        failures++;
        failure = why;
        long pause = patience.firstPauseNanos() << Math.min(6, failures - 1);
        notBeforeNanos = nanoClock.getAsLong() + pause;
        return new IOException(why);
    }

    @Override
    public void close() {
        if (server != null) {
            server.close();
            server = null;
        }
    }
}

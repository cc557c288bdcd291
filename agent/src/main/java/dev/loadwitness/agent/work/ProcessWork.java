// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.work;

import dev.loadwitness.agent.load.LoadFact;
import dev.loadwitness.agent.load.LoadLauncher;
import dev.loadwitness.agent.load.RunningLoad;
import dev.loadwitness.agent.run.Work;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.LoadKind;
import dev.loadwitness.runlog.procedure.Stage;
import java.io.IOException;
import java.time.Duration;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;

/** A worker process as the run sees it. */
public final class ProcessWork implements Work {
    /** Compiling, calibrating; drivers without a cache of compiled programs need seconds for each. */
    private static final Duration GPU_READY = Duration.ofSeconds(60);
    /** At most thirty trials of up to 4.5 seconds, and as above. */
    private static final Duration GPU_TUNED = Duration.ofSeconds(200);

    private final LoadKind kind;
    private final Optional<GpuChoice> gpu;
    private final RunningLoad load;
    private final String scheduling;

    private ProcessWork(LoadKind kind, Optional<GpuChoice> gpu, RunningLoad load, String scheduling) {
        this.kind = kind;
        this.gpu = gpu;
        this.load = load;
        this.scheduling = scheduling;
    }

    public static Work start(LoadLauncher launcher, Map<Role, GpuChoice> gpus, LoadKind kind, Stage stage)
            throws IOException {
        Optional<GpuChoice> gpu = kind.needsGpu() ? stage.gpu().map(gpus::get) : Optional.empty();
        if (kind.needsGpu() && gpu.isEmpty()) {
            throw new IOException("there is no device for it");
        }
        RunningLoad load =
                switch (kind) {
                    case CPU -> launcher.cpu();
                    case MEMORY -> launcher.memory(stage.memoryShare());
                    default -> launcher.gpu(kind, gpu.get().device(), stage.memoryShare());
                };
        return new ProcessWork(kind, gpu, load, launcher.scheduling());
    }

    @Override
    public LoadKind kind() {
        return kind;
    }

    @Override
    public String scheduling() {
        return scheduling;
    }

    @Override
    public Map<String, Object> device() {
        return gpu.map(GpuChoice::facts).orElse(Map.of());
    }

    @Override
    public String component() {
        return gpu.flatMap(g -> g.device().pciAddress()).orElse("");
    }

    @Override
    public boolean ready() {
        return load.isReady();
    }

    @Override
    public Duration readyWithin() {
        return gpu.isEmpty() ? Work.super.readyWithin() : kind == LoadKind.GPU_MIX ? GPU_TUNED : GPU_READY;
    }

    @Override
    public void power(double watts) {
        if (kind.needsGpu()) {
            load.power(watts);
        }
    }

    @Override
    public long verified() {
        return load.progress().verified();
    }

    @Override
    public long errors() {
        return load.progress().errors();
    }

    @Override
    public void plant() {
        load.plantFault();
    }

    @Override
    public boolean plantCaught() {
        return load.plantCaught();
    }

    @Override
    public List<Fact> check(long nowNanos) {
        return load.check(System.nanoTime()).stream().map(this::fact).toList();
    }

    private Fact fact(LoadFact fact) {
        if (fact instanceof LoadFact.Wrong wrong) {
            return kind == LoadKind.MEMORY
                    ? new Fact(EventKind.MEMORY_ERROR, Map.of("detail", wrong.detail()), false)
                    : new Fact(EventKind.COMPUTE_ERROR, Map.of("role", role(), "detail", wrong.detail()), false);
        }
        if (fact instanceof LoadFact.Died died) {
            return new Fact(EventKind.WORKER_DIED, Map.of("load", kind.word(), "detail", died.detail()), true);
        }
        if (fact instanceof LoadFact.Stalled stalled) {
            return new Fact(
                    EventKind.WORKER_STALLED,
                    Map.of("load", kind.word(), "seconds", stalled.since().toNanos() / 1e9, "detail", stalled.detail()),
                    true);
        }
        if (fact instanceof LoadFact.Lost lost) {
            return new Fact(
                    EventKind.DEVICE_LOST,
                    Map.of(
                            "role",
                            role(),
                            "device",
                            gpu.map(g -> g.device().describe()).orElse(""),
                            "detail",
                            lost.detail()),
                    true);
        }
        if (fact instanceof LoadFact.Level level) {
            return new Fact(
                    EventKind.LOAD_LEVEL,
                    Map.of("load", kind.word(), "level", level.level(), "seconds", level.lateSeconds()),
                    false);
        }
        if (fact instanceof LoadFact.Edges edges) {
            return new Fact(EventKind.LOAD_EDGES, facts(edges), false);
        }
        if (fact instanceof LoadFact.Tuned tuned) {
            return new Fact(EventKind.LOAD_TUNED, facts(tuned), false);
        }
        throw new IllegalStateException("unknown fact " + fact);
    }

    private String role() {
        return gpu.map(g -> g.role().word()).orElse(kind.word());
    }

    private Map<String, Object> facts(LoadFact.Edges edges) {
        Map<String, Object> facts = new LinkedHashMap<>();
        facts.put("load", kind.word());
        facts.put("period", edges.periodSeconds());
        facts.put("duty", edges.duty());
        facts.put("since", edges.sinceSeconds());
        facts.put("edges", edges.edges());
        return facts;
    }

    private Map<String, Object> facts(LoadFact.Tuned tuned) {
        Map<String, Object> facts = new LinkedHashMap<>();
        facts.put("load", kind.word());
        facts.put("detail", tuned.detail());
        if (Double.isFinite(tuned.value())) {
            facts.put(tuned.ofPower() ? "watts" : "rate", tuned.value());
        }
        facts.put("chosen", tuned.chosen());
        return facts;
    }

    @Override
    public void stop() {
        load.close();
    }
}

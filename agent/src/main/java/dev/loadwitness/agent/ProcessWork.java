// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import dev.loadwitness.agent.load.LoadFact;
import dev.loadwitness.agent.load.LoadLauncher;
import dev.loadwitness.agent.load.RunningLoad;
import dev.loadwitness.agent.run.Work;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.procedure.LoadKind;
import dev.loadwitness.runlog.procedure.Stage;
import java.io.IOException;
import java.util.List;
import java.util.Map;

/** A worker process as the run sees it. */
final class ProcessWork implements Work {
    private final LoadKind kind;
    private final RunningLoad load;
    private final String scheduling;

    private ProcessWork(LoadKind kind, RunningLoad load, String scheduling) {
        this.kind = kind;
        this.load = load;
        this.scheduling = scheduling;
    }

    static Work start(LoadLauncher launcher, LoadKind kind, Stage stage) throws IOException {
        RunningLoad load =
                switch (kind) {
                    case CPU -> launcher.cpu();
                    case MEMORY -> launcher.memory(stage.memoryShare());
                    default -> throw new IOException("this version has no " + kind.word() + " load");
                };
        return new ProcessWork(kind, load, launcher.scheduling());
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
    public boolean ready() {
        return load.isReady();
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
                    : new Fact(EventKind.COMPUTE_ERROR, Map.of("role", kind.word(), "detail", wrong.detail()), false);
        }
        if (fact instanceof LoadFact.Died died) {
            return new Fact(EventKind.WORKER_DIED, Map.of("load", kind.word(), "detail", died.detail()), true);
        }
        if (fact instanceof LoadFact.Stalled stalled) {
            return new Fact(
                    EventKind.WORKER_STALLED,
                    Map.of("load", kind.word(), "seconds", stalled.silence().toNanos() / 1e9),
                    true);
        }
        throw new IllegalStateException("unknown fact " + fact);
    }

    @Override
    public void stop() {
        load.close();
    }
}

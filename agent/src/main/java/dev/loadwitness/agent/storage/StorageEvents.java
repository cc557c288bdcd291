// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.storage;

import dev.loadwitness.agent.run.Run;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.file.write.WriterListener;
import java.time.Duration;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import org.jspecify.annotations.Nullable;

/** Brings what the writer says of its disk into the log: at once while a run goes on, and from before as soon as one does. */
public final class StorageEvents implements WriterListener {
    /** Something that waits for a run to tell it to. */
    public record Told(EventKind kind, Map<String, Object> facts) {}

    private final List<Told> early = new ArrayList<>();
    private @Nullable Run run;

    public synchronized void tell(EventKind kind, Map<String, Object> facts) {
        if (run != null) {
            run.tell(kind, facts);
        } else {
            early.add(new Told(kind, facts));
        }
    }

    public synchronized void goTo(Run begun) {
        run = begun;
        untold().forEach(told -> begun.tell(told.kind(), told.facts()));
    }

    /** What no run was there to be told. */
    public synchronized List<Told> untold() {
        List<Told> all = List.copyOf(early);
        early.clear();
        return all;
    }

    @Override
    public void storageLow(String detail) {
        tell(EventKind.STORAGE_LOW, Map.of("detail", detail));
    }

    @Override
    public void storageLost(String detail) {
        tell(EventKind.STORAGE_LOW, Map.of("detail", "nothing can be written, the run goes on: " + detail));
    }

    @Override
    public void storageBack(Duration lost) {
        tell(EventKind.STORAGE_BACK, Map.of("seconds", lost.toNanos() / 1e9));
    }

    @Override
    public void stalled(Duration length) {
        tell(
                EventKind.WITNESS_STALLED,
                Map.of("seconds", length.toNanos() / 1e9, "detail", "the log's disk stood still"));
    }

    @Override
    public void partBegun(int part, String why) {
        tell(EventKind.STORAGE_LOW, Map.of("detail", "the log goes on in part " + part + ": " + why));
    }
}

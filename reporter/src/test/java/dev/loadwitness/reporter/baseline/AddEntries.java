// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.baseline;

import java.nio.file.Path;
import java.util.Map;

/** A process that adds many entries to a store. Arguments: the store, a name, how many. */
final class AddEntries {
    private AddEntries() {}

    public static void main(String[] args) throws Exception {
        BaselineStore store = new BaselineStore(Path.of(args[0]));
        for (int i = 0; i < Integer.parseInt(args[2]); i++) {
            // Every other run is one that the other process adds too.
            String id = i % 2 == 0 ? "both-" + i : args[1] + "-" + i;
            store.add(entry(id, "machine of " + id, Map.of("soak: plateau, Cel", 70.0 + i)));
        }
    }

    static BaselineEntry entry(String runId, String machine, Map<String, Double> figures) {
        return new BaselineEntry(
                runId, "2026-11-24T09:12:40Z", machine, "Alder Works AW-17 Kestrel", "p", "2", false, "pass", figures);
    }
}

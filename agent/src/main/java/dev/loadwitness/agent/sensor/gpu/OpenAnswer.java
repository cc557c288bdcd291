// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;

/**
 * What the server said when it was opened.
 *
 * @param unreachable address and return code of parts that cannot be had
 * @param failure why there is nothing at all; empty if it opened
 */
record OpenAnswer(List<Gpu> gpus, Map<String, Integer> unreachable, String driver, String failure) {
    /**
     * @param absent name of what it does not offer, and the return code that said so
     */
    record Gpu(String address, String name, List<Offer> offers, Map<String, Integer> absent) {}

    static OpenAnswer of(List<String> lines) {
        List<Gpu> gpus = new ArrayList<>();
        Map<String, Integer> unreachable = new LinkedHashMap<>();
        String driver = "";
        String failure = "";
        for (String line : lines) {
            String[] words = line.split("\t", -1);
            switch (words[0]) {
                case "gpu" -> gpus.add(new Gpu(words[1], words[2], new ArrayList<>(), new LinkedHashMap<>()));
                case "offer" -> gpus.get(gpus.size() - 1).offers().add(Offer.fromLine(line));
                case "absent" -> gpus.get(gpus.size() - 1).absent().put(words[1], Integer.valueOf(words[2]));
                case "unreachable" -> unreachable.put(words[1], Integer.valueOf(words[2]));
                case "opened" -> driver = words[1];
                case "failed" -> failure = words[2];
                default -> {
                    // A banner of the Java machine, or a line of a newer server.
                }
            }
        }
        return new OpenAnswer(gpus, unreachable, driver, failure);
    }
}

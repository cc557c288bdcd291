// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import java.util.ArrayList;
import java.util.Collection;
import java.util.HashSet;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Set;

/**
 * What the server said when it was opened.
 *
 * @param unreachable address and return code of parts that cannot be had
 * @param failure why there is nothing at all; empty if it opened
 */
record OpenAnswer(List<Gpu> gpus, Map<String, Integer> unreachable, String failure) {
    /**
     * @param absent name of what it does not offer, and the return code that said so
     */
    record Gpu(String address, List<Offer> offers, Map<String, Integer> absent) {}

    /**
     * @param asked addresses of the parts that were asked for, no other can answer; none: all that the library has
     * @throws Refused if that is not such an answer
     */
    static OpenAnswer of(List<String> lines, Collection<String> asked) throws Refused {
        List<Gpu> gpus = new ArrayList<>();
        Map<String, Integer> unreachable = new LinkedHashMap<>();
        Set<String> said = new HashSet<>();
        for (String text : ServerLine.allButTheLast(lines)) {
            ServerLine line = new ServerLine(text);
            switch (line.kind()) {
                case "gpu" ->
                    gpus.add(new Gpu(address(line.with(1), asked, said), new ArrayList<>(), new LinkedHashMap<>()));
                case "unreachable" -> unreachable.put(address(line.with(2), asked, said), line.code(2));
                case "offer" -> add(line, gpus);
                case "absent" -> addAbsent(line, gpus);
                default -> throw line.refused();
            }
        }
        ServerLine last = ServerLine.last(lines);
        return switch (last.with(last.kind().equals("failed") ? 1 : 0).kind()) {
            case "failed" -> new OpenAnswer(List.of(), unreachable, last.text(1));
            case "opened" -> new OpenAnswer(gpus, unreachable, "");
            default -> throw last.refused();
        };
    }

    private static String address(ServerLine line, Collection<String> asked, Set<String> said) throws Refused {
        String address = line.name(1);
        if (!said.add(address) || (!asked.isEmpty() && !asked.contains(address))) {
            throw line.refused();
        }
        return address;
    }

    private static Gpu last(ServerLine line, List<Gpu> gpus) throws Refused {
        if (gpus.isEmpty()) {
            throw line.refused();
        }
        return gpus.get(gpus.size() - 1);
    }

    private static void add(ServerLine line, List<Gpu> gpus) throws Refused {
        Offer offer = Offer.from(line);
        List<Offer> offers = last(line, gpus).offers();
        if (offers.stream().anyMatch(o -> o.name().equals(offer.name()))) {
            throw line.refused();
        }
        offers.add(offer);
    }

    private static void addAbsent(ServerLine line, List<Gpu> gpus) throws Refused {
        if (last(line, gpus).absent().put(line.with(2).name(1), line.code(2)) != null) {
            throw line.refused();
        }
    }
}

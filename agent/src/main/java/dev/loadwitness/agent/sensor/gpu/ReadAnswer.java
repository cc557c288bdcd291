// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import java.util.ArrayList;
import java.util.Collection;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;

/**
 * What the server said when it was asked to read.
 *
 * @param values in the order of the offers, NaN where there was no answer; empty if all failed
 * @param lost address and return code of parts whose answers said that they are out of reach
 * @param restarted why the library was initialised again; empty if it was not
 * @param failure why there are no values; empty if there are
 */
record ReadAnswer(List<Double> values, Map<String, Integer> lost, String restarted, String failure) {
    /**
     * @param addresses of the parts that it was opened with
     * @throws Refused if that is not such an answer
     */
    static ReadAnswer of(List<String> lines, Collection<String> addresses) throws Refused {
        Map<String, Integer> lost = new LinkedHashMap<>();
        String restarted = "";
        for (String text : ServerLine.allButTheLast(lines)) {
            ServerLine line = new ServerLine(text);
            if (line.kind().equals("lost")) {
                String address = line.with(2).name(1);
                if (!addresses.contains(address) || lost.put(address, line.code(2)) != null) {
                    throw line.refused();
                }
            } else if (line.kind().equals("restarted") && restarted.isEmpty()) {
                restarted = line.with(1).text(1);
            } else {
                throw line.refused();
            }
        }
        ServerLine last = ServerLine.last(lines);
        return switch (last.kind()) {
            case "failed" ->
                new ReadAnswer(List.of(), lost, restarted, last.with(1).text(1));
            case "values" -> new ReadAnswer(values(last), lost, restarted, "");
            default -> throw last.refused();
        };
    }

    private static List<Double> values(ServerLine line) throws Refused {
        List<Double> values = new ArrayList<>();
        for (int i = 1; i <= line.size(); i++) {
            values.add(line.reading(i));
        }
        return values;
    }
}

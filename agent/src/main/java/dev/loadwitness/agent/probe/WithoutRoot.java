// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.probe;

import dev.loadwitness.agent.sensor.Missing;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import java.util.stream.Collectors;

/**
 * Something that the system kept from this user.
 *
 * @param costs what that means for the criteria and the log
 */
public record WithoutRoot(String what, String costs) {
    private static final Map<String, String> COSTS =
            Map.of("CPU energy", "soak-duration of the CPU goes by work rate instead of watts");

    /** What was refused for lack of permission, of the sensors and of the machine's facts. */
    public static List<WithoutRoot> of(List<Missing> missing, List<String> refusedFacts) {
        List<WithoutRoot> lost = new ArrayList<>();
        for (Missing m : missing) {
            if (m.why().contains("permission denied")) {
                lost.add(
                        new WithoutRoot(m.what(), COSTS.getOrDefault(m.what(), "criteria that need it stay unjudged")));
            }
        }
        refusedFacts.forEach(
                f -> lost.add(new WithoutRoot(f, "no criterion; write it into the job sheet if it matters")));
        return lost;
    }

    static String line(List<WithoutRoot> lost) {
        return lost.isEmpty()
                ? "Nothing was refused for lack of permission."
                : "Without root: "
                        + lost.stream()
                                .map(l -> "no " + l.what() + " (" + l.costs() + ")")
                                .collect(Collectors.joining("; "));
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.rule;

import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.statistics.StepResponse;
import java.util.ArrayList;
import java.util.List;

/** What is said of a plateau wherever one is used. */
public final class Plateaus {
    private Plateaus() {}

    public static List<Evidence> evidence(Warming w, double ambient) {
        StepResponse r = w.response().orElseThrow();
        List<Evidence> evidence = new ArrayList<>();
        evidence.add(Evidence.of(
                w.stage().begin(),
                "stage " + w.stage().stage().id() + ", its last "
                        + Texts.duration(r.windowSeconds()) + ": plateau " + Texts.number(r.plateau(), 1) + " °C ± "
                        + Texts.number(r.halfWidth(), 1) + " K (95 %) at " + Texts.number(w.watts(), 0) + " W, room "
                        + Texts.number(ambient, 1) + " °C"));
        evidence.add(Evidence.named(
                "interval",
                "of its ± " + Texts.number(r.halfWidth(), 1) + " K the scatter is " + Texts.number(r.statistical(), 1)
                        + " K, what other fits and parts slower than the stage leave open "
                        + Texts.number(r.discrepancy(), 1)
                        + " K, the rest one step of the sensor"));
        if (!Double.isNaN(r.timeConstantSeconds())) {
            evidence.add(Evidence.named(
                    "time constant",
                    Double.isNaN(r.fastSeconds())
                            ? Texts.duration(r.timeConstantSeconds())
                            : Texts.duration(r.fastSeconds()) + " and " + Texts.duration(r.timeConstantSeconds())));
        }
        return evidence;
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.jobsheet;

import java.util.ArrayList;
import java.util.List;

/**
 * Something that a valid job sheet leaves open, and what comes of leaving it so.
 *
 * @param key where to fill it in, for example {@code machine serial}
 * @param text one sentence part, for people
 */
public record OpenItem(String key, String text) {
    /**
     * All that is open and would be missed, in the order of the sheet. What many shops never state (warranty, an earlier
     * report, whose adapter) is not among it.
     */
    public static List<OpenItem> of(JobSheet sheet) {
        List<OpenItem> open = new ArrayList<>();
        text(open, sheet.shop(), "shop", "the report names no shop");
        text(open, sheet.technician(), "technician", "the report names nobody who did the work");
        text(open, sheet.customer(), "customer", "the report names nobody whom it is for");
        if (sheet.received().isEmpty()) {
            open.add(new OpenItem("received", "the report says no day on which the machine came in"));
        }
        text(open, sheet.machine().make(), "machine make", "the report then relies on the firmware");
        text(open, sheet.machine().model(), "machine model", "the report then relies on the firmware");
        text(open, sheet.machine().serial(), "machine serial", "the report then relies on the firmware");
        text(open, sheet.reportedFault(), "reported-fault", "the report cannot say what the repair was for");
        text(open, sheet.intake().condition(), "condition-on-receipt", "who broke what cannot be told later");
        if (sheet.workDone().isEmpty()) {
            open.add(new OpenItem("work-done", "the report cannot say what was repaired"));
        }
        if (sheet.ratedGraphicsWatts().isEmpty()) {
            open.add(new OpenItem(
                    "rated-graphics-power",
                    "\"fully loaded\" is then measured against what the machine itself showed"));
        } else {
            text(open, sheet.power().ratingOrigin(), "rated-power-origin", "nobody can check the rated power");
        }
        if (sheet.wallMeter().idleWatts().isEmpty()
                || sheet.wallMeter().soakWatts().isEmpty()) {
            open.add(new OpenItem("wall-meter", "the power that the machine reports of itself stays unchecked"));
        }
        rails(open, sheet.rails());
        handChecks(open, sheet.handChecks());
        if (sheet.closing().closedSinceTest().isEmpty()) {
            open.add(new OpenItem("closed-since-test", "whether the test shows what was posted stays unsaid"));
        }
        return open;
    }

    private static void text(List<OpenItem> open, String value, String key, String consequence) {
        if (value.isEmpty()) {
            open.add(new OpenItem(key, consequence));
        }
    }

    private static void rails(List<OpenItem> open, List<Rail> rails) {
        if (rails.isEmpty()) {
            open.add(new OpenItem("rails", "criterion rails is not measured"));
        }
        for (Rail rail : rails) {
            String key = "rails: " + rail.title();
            if (rail.voltsAfter().isEmpty()) {
                open.add(new OpenItem(key, "voltage-after is missing"));
            }
            if (!rail.state().isEmpty() && !Rail.STATES.contains(rail.state())) {
                open.add(new OpenItem(key, "state is none of " + String.join(", ", Rail.STATES)));
            } else if (rail.state().isEmpty()) {
                open.add(new OpenItem(key, "state is missing: a voltage says little without it"));
            }
            if (rail.hasOwnLimits()) {
                continue;
            }
            if (rail.kind().isEmpty()) {
                open.add(new OpenItem(key, "neither limits nor kind: it cannot be judged"));
            } else if (rail.kind().get() == Rail.Kind.FIXED
                    && rail.nominalVolts().isEmpty()) {
                open.add(new OpenItem(key, "fixed, but without a nominal voltage: it cannot be judged"));
            } else if (rail.kind().get() == Rail.Kind.CONTROLLED
                    && rail.knownGood().isEmpty()) {
                open.add(new OpenItem(key, "no reading of a known-good board to compare with"));
            }
        }
    }

    private static void handChecks(List<OpenItem> open, List<JobSheet.HandCheck> checks) {
        if (checks.isEmpty()) {
            open.add(new OpenItem("hand-checks", "criterion hand-checks is not measured"));
        }
        for (JobSheet.HandCheck check : checks) {
            if (check.state() == JobSheet.HandCheck.State.OPEN) {
                open.add(new OpenItem("hand-checks: " + check.name(), "not made"));
            }
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.verdict;

import dev.loadwitness.reporter.statistics.FailureRate;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import java.math.BigDecimal;
import java.math.RoundingMode;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;

/** What all attempts together show, and no more. */
final class Demonstrated {
    private static final double CONFIDENCE = 0.95;

    /** Below this a bound on the mean time would be a number without a meaning (our choice). */
    private static final double LEAST_SECONDS = 600;

    private Demonstrated() {}

    static List<String> of(Attempts attempts, Optional<JobSheet> jobSheet) {
        List<String> said = new ArrayList<>();
        if (attempts.qualifiedSeconds() <= 0) {
            return said;
        }
        if (attempts.qualifiedSeconds() < LEAST_SECONDS) {
            said.add(hours(attempts.qualifiedSeconds())
                    + " under full load is too short to say anything about how rarely the machine breaks off.");
            return said;
        }
        double hours = attempts.qualifiedSeconds() / 3600;
        int r = attempts.failures();
        int open = attempts.openEnds();
        int counted = attempts.counted();
        String attemptsText;
        if (attempts.list().size() == 1) {
            attemptsText = "this run";
        } else if (counted == 1) {
            attemptsText = "one attempt alone";
        } else {
            attemptsText = (counted == attempts.list().size() ? "all " : "the ") + counted + " attempts "
                    + (counted == attempts.list().size() ? "shown" : "counted");
        }
        // What may have been the machine's doing counts as that: silence never makes the bound better.
        double bound = FailureRate.meanTimeLowerBound(hours, r + open, CONFIDENCE);
        said.add(
                "In " + hours(attempts.qualifiedSeconds()) + " under full load over " + attemptsText + " the machine"
                        + " broke off " + r + (r == 1 ? " time" : " times")
                        + (open == 0
                                ? ""
                                : " (and " + open + (open == 1 ? " log ends" : " logs end")
                                        + " in the middle, counted as one more"
                                        + (open == 1 ? "" : " each") + ")")
                        + ": with 95 % confidence its mean time between such"
                        + " breaks under this load is at least " + hours(bound * 3600)
                        + ", if they come at a constant rate. Faults that strike only while the machine warms up do not come at one.");
        jobSheet.map(JobSheet::minutesBetweenFaults)
                .filter(m -> !m.isEmpty())
                .ifPresent(m -> said.add(asBefore(m, attempts.qualifiedSeconds() / 60, r + open)));
        return said;
    }

    private static String asBefore(List<Double> intervals, double minutes, int failures) {
        double mean =
                intervals.stream().mapToDouble(Double::doubleValue).average().orElseThrow();
        String before = "Before the repair it shut off every " + number(mean, 0) + " min on average ("
                + intervals.size() + (intervals.size() == 1 ? " interval" : " intervals") + " reported).";
        if (failures > 0) {
            return before;
        }
        double shown = FailureRate.chanceSeenFromObserved(minutes, mean, intervals.size());
        String would =
                before + " Had that fault still been there, at a constant rate, it would have shown itself in this"
                        + " time with a probability of " + floor(shown * 100, 0) + " %.";
        if (shown >= CONFIDENCE) {
            return would;
        }
        double needed = FailureRate.requiredTimeFromObserved(mean, intervals.size(), CONFIDENCE);
        return would + " For 95 % it takes " + number(StrictMath.ceil(needed), 0) + " min of full load in all.";
    }

    /** {@code 48 s}, {@code 61 min}, or {@code 2.5 h} from two hours on. Rounded down: a promise is not rounded up. */
    static String hours(double seconds) {
        if (seconds < 120) {
            return floor(seconds, 0) + " s";
        }
        return seconds >= 7200 ? floor(seconds / 3600, 1) + " h" : floor(seconds / 60, 0) + " min";
    }

    private static String floor(double value, int decimals) {
        return BigDecimal.valueOf(value).setScale(decimals, RoundingMode.FLOOR).toPlainString();
    }

    private static String number(double value, int decimals) {
        return BigDecimal.valueOf(value)
                .setScale(decimals, RoundingMode.HALF_UP)
                .toPlainString();
    }
}

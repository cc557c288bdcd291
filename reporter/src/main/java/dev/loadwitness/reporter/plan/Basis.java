// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.plan;

import dev.loadwitness.reporter.statistics.FailureRate;
import java.util.List;

/** What is known of how often it fails. All of it holds for failures at a constant rate, and for no others. */
public sealed interface Basis {
    /** Soak in seconds that is needed at a confidence between 0 and 1. */
    double soakSeconds(double confidence);

    /** A fault whose mean interval is known, for example from a long log. */
    record Known(double meanSeconds) implements Basis {
        @Override
        public double soakSeconds(double confidence) {
            return FailureRate.requiredTime(meanSeconds, 0, confidence);
        }
    }

    /** A fault of which only a few intervals were observed: their mean is itself uncertain, and that costs time. */
    record Observed(List<Double> seconds) implements Basis {
        public Observed {
            seconds = List.copyOf(seconds);
            if (seconds.isEmpty()) {
                throw new IllegalArgumentException("no interval");
            }
        }

        double meanSeconds() {
            return seconds.stream().mapToDouble(Double::doubleValue).average().orElseThrow();
        }

        @Override
        public double soakSeconds(double confidence) {
            return FailureRate.requiredTimeFromObserved(meanSeconds(), seconds.size(), confidence);
        }
    }

    /** A mean time between failures that shall be shown, with so many failures allowed meanwhile. */
    record Objective(double meanSeconds, int allowedFailures) implements Basis {
        @Override
        public double soakSeconds(double confidence) {
            return FailureRate.requiredTime(meanSeconds, allowedFailures, confidence);
        }
    }
}

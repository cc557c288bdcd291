// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.windows;

import static java.util.Objects.requireNonNull;

import java.time.Duration;
import java.util.List;

/** The system event log. Everything behind these texts is plain Java, so that it can be tried on any system. */
interface SystemLog {
    /**
     * The newest events that match, newest first, each as XML. Never throws: what could not be had is in the answer.
     *
     * @param query as the vendor's "Query Schema" has it
     * @param limit after this the answer comes with what there is
     */
    Answer newest(String query, int most, Duration limit);

    /**
     * What came.
     *
     * @param notLearned why events may be missing from the list, other than that there were more than asked for; empty
     *     if none are
     */
    record Answer(List<String> events, String notLearned) {
        public Answer {
            events = List.copyOf(events);
            requireNonNull(notLearned, "notLearned");
        }

        static Answer none(String why) {
            return new Answer(List.of(), why);
        }
    }
}

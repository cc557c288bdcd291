// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

import java.time.Duration;
import java.time.Instant;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;

/**
 * What is known when a run begins.
 *
 * @param runId random, 32 lower-case hex digits
 * @param ticket the bench's number for the job; empty for a run without one
 * @param nonce a word from the bench computer that proves the run is younger than it; empty if none was given
 * @param simulated true if no machine was measured: such a run is never certified
 * @param facts what was found out about the machine: groups ({@code machine}, {@code firmware}, {@code os},
 *     {@code cpu}, {@code gpu}, {@code memory}, {@code power}, …) of named texts, in the order found
 * @param withheld groups or names left out on request, for example {@code serial}, {@code host}
 * @param ambientHow how the ambient temperature was taken; empty if it was not
 * @param undurable the largest age of a record not yet on disk that the writer promised, at its present speed
 */
public record Header(
        String runId,
        Instant utc,
        String ticket,
        String nonce,
        List<EarlierAttempt> earlier,
        boolean simulated,
        Map<String, Map<String, String>> facts,
        List<String> withheld,
        String agentVersion,
        Attachment procedure,
        Optional<Attachment> jobSheet,
        OptionalDouble ambientCelsius,
        String ambientHow,
        Duration undurable)
        implements LogRecord {
    public Header {
        earlier = List.copyOf(earlier);
        withheld = List.copyOf(withheld);
    }

    /** One fact, or an empty text. */
    public String fact(String group, String name) {
        return facts.getOrDefault(group, Map.of()).getOrDefault(name, "");
    }

    @Override
    public <R> R accept(Handler<R> handler) {
        return handler.header(this);
    }
}

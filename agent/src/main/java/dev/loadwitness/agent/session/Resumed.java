// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.session;

import dev.loadwitness.agent.resume.Decision;
import dev.loadwitness.agent.resume.Unfinished;
import dev.loadwitness.agent.run.RunClock;
import dev.loadwitness.agent.storage.StorageEvents;
import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.file.write.RunLogWriter;
import java.util.Map;

/**
 * A log that was taken up again: the record of this start is on its disk.
 *
 * @param before what the log says up to the interruption
 * @param now the record of this start
 * @param evidence of how it came to the interruption; gathered after {@code now} was written
 */
public record Resumed(
        RunLogWriter writer,
        RunClock clock,
        StorageEvents told,
        Unfinished before,
        Boot now,
        Map<String, String> evidence,
        Decision decision) {}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import java.io.IOException;
import java.nio.file.Path;
import java.time.Duration;

/** Writes a {@link LongRun} from the command line, for {@code benchmarks/judge_long_log.py}. */
public final class WriteLongRun {
    private WriteLongRun() {}

    /**
     * Writes {@code FOLDER/run.jsonl}.
     *
     * @param args {@code FOLDER SECONDS PERIOD_MILLIS}
     */
    public static void main(String[] args) throws IOException {
        Duration length = Duration.ofSeconds(Long.parseLong(args[1]));
        new LongRun(length, Duration.ofMillis(Long.parseLong(args[2]))).write(Path.of(args[0]), "run");
    }
}

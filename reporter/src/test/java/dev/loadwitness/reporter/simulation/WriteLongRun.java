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
     * @param args {@code FOLDER SECONDS}
     */
    public static void main(String[] args) throws IOException {
        new LongRun(Duration.ofSeconds(Long.parseLong(args[1]))).write(Path.of(args[0]), "run");
    }
}

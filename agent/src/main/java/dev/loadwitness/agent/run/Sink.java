// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import dev.loadwitness.runlog.LogRecord;

/** Where records go. Never waits for the disk. */
public interface Sink {
    void append(LogRecord logRecord);
}

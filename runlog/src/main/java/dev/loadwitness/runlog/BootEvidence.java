// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

import java.util.Collections;
import java.util.LinkedHashMap;
import java.util.Map;

/** Evidence of how the last boot ended, gathered after {@link Boot}: named texts. */
public record BootEvidence(RunTime at, Map<String, String> facts) implements LogRecord {
    public BootEvidence {
        facts = Collections.unmodifiableMap(new LinkedHashMap<>(facts));
    }

    @Override
    public <R> R accept(Handler<R> handler) {
        return handler.bootEvidence(this);
    }
}

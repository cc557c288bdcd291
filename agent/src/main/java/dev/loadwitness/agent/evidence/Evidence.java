// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence;

import java.util.List;
import java.util.Map;

/** Where a system keeps evidence of how a boot ended. */
public interface Evidence {
    /**
     * The facts of a {@code boot-evidence} record, by the words of {@link dev.loadwitness.runlog.ending.Fact}. Never
     * throws: what could not be learned is left out, and said in {@code not-learned}. Takes seconds, and with everything
     * hanging a minute and a half. Copies no serial number, host or user name.
     */
    Map<String, String> gather(LastBoot last);

    /** How good the evidence would be here if the machine died now. Loads and changes nothing. */
    List<Quality> quality();
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.session;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.agent.load.child.WorkerMain;
import java.io.IOException;
import org.junit.jupiter.api.Test;

final class BeforeRunTest {
    @Test
    void aLoadOfAnotherRunIsNamedAndTheTextSaysThatThisRunGoesOn() throws IOException {
        Process other = new ProcessBuilder("sh", "-c", "sleep 60; exit", WorkerMain.class.getName()).start();
        try {
            assertThat(BeforeRun.otherLoad())
                    .hasValueSatisfying(text -> assertThat(text)
                            .contains(Long.toString(other.pid()), "This run goes on all the same")
                            .doesNotContain("first"));
        } finally {
            other.descendants().forEach(ProcessHandle::destroyForcibly);
            other.destroyForcibly();
        }
    }
}

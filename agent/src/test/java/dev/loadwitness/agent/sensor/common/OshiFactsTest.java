// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.common;

import static org.assertj.core.api.Assertions.assertThat;

import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import org.junit.jupiter.api.Test;

class OshiFactsTest {
    @Test
    void whatOshiSaysOfThisProcessorIsWhatTheKernelSays() throws Exception {
        OshiFacts facts = OshiFacts.ask();
        long threads = Files.readAllLines(Path.of("/proc/cpuinfo")).stream()
                .filter(line -> line.startsWith("processor"))
                .count();
        assertThat(facts.failure()).isEmpty();
        assertThat(facts.groups().get("cpu")).containsEntry("threads", Long.toString(threads));
        assertThat(facts.groups().get("os")).containsKey("family");
    }

    @Test
    void aWorkerThatHangsIsNotWaitedFor() {
        OshiFacts facts = OshiFacts.ask(new ProcessBuilder("/bin/sleep", "60")::start, Duration.ofMillis(200));
        assertThat(facts.groups()).isEmpty();
        assertThat(facts.failure()).hasValueSatisfying(why -> assertThat(why).startsWith("no answer within"));
    }

    @Test
    void aWorkerThatBreaksOffIsSaidToHaveAndWhatItSaidIsKept() {
        OshiFacts facts =
                OshiFacts.ask(new ProcessBuilder("/bin/echo", "os\tfamily\tLinux")::start, Duration.ofSeconds(10));
        assertThat(facts.groups().get("os")).containsEntry("family", "Linux");
        assertThat(facts.failure()).hasValue("it broke off");
    }

    @Test
    void aProgramThatCannotBeStartedIsAReason() {
        OshiFacts facts = OshiFacts.ask(new ProcessBuilder("/nonexistent/java")::start, Duration.ofSeconds(10));
        assertThat(facts.failure()).isPresent();
    }
}

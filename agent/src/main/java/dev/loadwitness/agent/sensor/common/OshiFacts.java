// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.common;

import dev.loadwitness.agent.process.OwnProcess;
import dev.loadwitness.agent.process.SpareThread;
import java.io.IOException;
import java.io.InputStream;
import java.nio.charset.StandardCharsets;
import java.time.Duration;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.concurrent.ExecutionException;
import java.util.concurrent.TimeoutException;

/**
 * What OSHI knows of the machine, for what the kernel's files did not say.
 *
 * @param groups facts by group, then by name
 * @param failure why there are none, or fewer than there could be
 */
record OshiFacts(Map<String, Map<String, String>> groups, Optional<String> failure) {
    /** The last line of a worker that got to its end. */
    static final String END = "end";

    private static final Duration LONGEST = Duration.ofSeconds(10);
    private static final int MOST_BYTES = 1 << 20;
    private static final List<String> JAVA_OPTIONS = List.of("-Xmx64m", "-XX:+UseSerialGC", "-XX:TieredStopAtLevel=1");

    /** No such folder: what OSHI would start by name, root must not look for where somebody may have put it. */
    private static final String NOWHERE = "/nonexistent";

    /** Asks for at most 10 s. Starts a process, so call it before the load begins. */
    static OshiFacts ask() {
        return ask(
                () -> OwnProcess.start(List.of(), JAVA_OPTIONS, OshiWorker.class, List.of(), Map.of("PATH", NOWHERE)),
                LONGEST);
    }

    /** Starts a worker. */
    interface Starter {
        Process start() throws IOException;
    }

    static OshiFacts ask(Starter starter, Duration longest) {
        Process worker;
        try {
            worker = starter.start();
            worker.getOutputStream().close();
        } catch (IOException e) {
            return new OshiFacts(Map.of(), Optional.of(String.valueOf(e.getMessage())));
        }
        try {
            return parse(SpareThread.ask("oshi", longest, () -> {
                try (InputStream in = worker.getInputStream()) {
                    return new String(in.readNBytes(MOST_BYTES), StandardCharsets.UTF_8);
                }
            }));
        } catch (TimeoutException e) {
            return new OshiFacts(Map.of(), Optional.of("no answer within " + longest.toSeconds() + " s"));
        } catch (ExecutionException e) {
            return new OshiFacts(Map.of(), Optional.of(String.valueOf(e.getCause())));
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
            return new OshiFacts(Map.of(), Optional.of("interrupted"));
        } finally {
            worker.destroyForcibly();
        }
    }

    private static OshiFacts parse(String said) {
        Map<String, Map<String, String>> groups = new LinkedHashMap<>();
        Optional<String> failure = Optional.of("it broke off");
        for (String line : said.split("\n", -1)) {
            String[] fact = line.split("\t", -1);
            if (fact[0].equals(END)) {
                failure = Optional.ofNullable(groups.remove("failed")).map(Object::toString);
            } else if (fact.length == 3) {
                groups.computeIfAbsent(fact[0], g -> new LinkedHashMap<>()).put(fact[1], fact[2]);
            }
        }
        return new OshiFacts(groups, failure);
    }
}

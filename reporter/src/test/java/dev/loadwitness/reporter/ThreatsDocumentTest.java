// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import static org.assertj.core.api.Assertions.assertThat;

import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.List;
import java.util.Optional;
import java.util.regex.MatchResult;
import java.util.regex.Pattern;
import java.util.stream.Stream;
import org.junit.jupiter.api.Test;

/** Each promise of docs/threats.md names what holds it, and all that it names is there. */
final class ThreatsDocumentTest {
    private static final Path TOP = Path.of("..");
    private static final Pattern NAME = Pattern.compile("`(?:([A-Z]\\w+)(?:\\.([a-z]\\w+))?|(checks/\\w+\\.py))`");

    @Test
    void eachPromiseNamesTestsAndScriptsThatAreThere() throws IOException {
        List<String> promises = promises();
        assertThat(promises).hasSizeGreaterThan(20);
        for (String promise : promises) {
            List<MatchResult> names = NAME.matcher(promise.substring(promise.indexOf('|', 1)))
                    .results()
                    .toList();
            assertThat(names).as(promise).isNotEmpty();
            for (MatchResult name : names) {
                assertThat(isThere(name))
                        .as("%s, of: %s", name.group(), promise)
                        .isTrue();
            }
        }
    }

    /** The rows of the tables that have two columns, without their heads. */
    private static List<String> promises() throws IOException {
        return Files.readAllLines(TOP.resolve("docs/threats.md")).stream()
                .filter(line -> line.matches("\\|[^|]+\\|[^|]+\\|"))
                .filter(line -> !line.startsWith("| promise |") && !line.startsWith("| ---"))
                .toList();
    }

    private static boolean isThere(MatchResult name) throws IOException {
        if (name.group(3) != null) {
            return Files.isRegularFile(TOP.resolve(name.group(3)));
        }
        Optional<Path> test = find(name.group(1) + ".java");
        return test.isPresent()
                && (name.group(2) == null
                        || Files.readString(test.get()).matches("(?s).*\\bvoid " + name.group(2) + "\\(.*"));
    }

    private static Optional<Path> find(String file) throws IOException {
        for (String module : List.of("runlog", "agent", "reporter")) {
            try (Stream<Path> files = Files.walk(TOP.resolve(module).resolve("src/test/java"))) {
                Optional<Path> found = files.filter(f -> f.endsWith(file)).findFirst();
                if (found.isPresent()) {
                    return found;
                }
            }
        }
        return Optional.empty();
    }
}

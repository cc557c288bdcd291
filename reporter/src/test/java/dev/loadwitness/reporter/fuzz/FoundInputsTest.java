// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.fuzz;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatCode;

import java.io.IOException;
import java.io.UncheckedIOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.List;
import java.util.stream.Stream;
import org.junit.jupiter.api.BeforeAll;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.Arguments;
import org.junit.jupiter.params.provider.MethodSource;

/**
 * Every input that once showed a finding, through all that the campaign puts its inputs through. They lie by kind in {@code
 * src/test/resources/fuzz}, each named after what was wrong with the program.
 */
class FoundInputsTest {
    private static final Path FOUND = Path.of("src/test/resources/fuzz");

    @BeforeAll
    static void knowAGenuineReport() {
        Campaign.TARGETS.get("pdf").warmUp(); // else a changed one that is called genuine would not be noticed
    }

    private static List<Path> files(String kind) {
        try (Stream<Path> files = Files.list(FOUND.resolve(kind))) {
            return files.sorted().toList();
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    static Stream<Arguments> inputs() {
        return Campaign.TARGETS.keySet().stream()
                .sorted()
                .flatMap(kind -> files(kind).stream().map(file -> Arguments.of(kind, file.getFileName(), file)));
    }

    @Test
    void noKindHasLostItsInputs() {
        assertThat(Campaign.TARGETS.keySet())
                .allSatisfy(kind -> assertThat(files(kind))
                        .as("inputs of %s", kind)
                        .isNotEmpty()
                        .allMatch(f -> f.toString()
                                .endsWith('.' + Campaign.TARGETS.get(kind).extension())));
    }

    @ParameterizedTest(name = "{0} {1}")
    @MethodSource("inputs")
    void anInputThatOnceShowedAFindingShowsNoneAnyMore(String kind, Path name, Path file) throws IOException {
        byte[] input = Files.readAllBytes(file);
        assertThatCode(() -> Campaign.TARGETS.get(kind).check(input, true))
                .as("%s", name)
                .doesNotThrowAnyException();
    }
}

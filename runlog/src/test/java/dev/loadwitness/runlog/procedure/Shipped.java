// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import java.io.IOException;
import java.io.UncheckedIOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.List;
import java.util.stream.Stream;

/** Files at the top of the repository, which tests of this module run one folder below. */
final class Shipped {
    private Shipped() {}

    static List<Path> thresholds() {
        try (Stream<Path> files = Files.list(Path.of("..", "thresholds"))) {
            return files.filter(f -> f.toString().endsWith(".yaml")).sorted().toList();
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    static String text(String first, String... more) {
        try {
            return Files.readString(Path.of("..").resolve(Path.of(first, more)));
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    static void write(String text, String first, String... more) {
        try {
            Files.writeString(Path.of("..").resolve(Path.of(first, more)), text);
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    static Procedure procedure(String name) throws ProcedureException {
        return ProcedureReader.read(name, text("thresholds", name));
    }
}

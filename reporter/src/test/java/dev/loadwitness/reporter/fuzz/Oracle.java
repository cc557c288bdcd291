// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.fuzz;

import com.fasterxml.jackson.databind.ObjectMapper;
import com.networknt.schema.InputFormat;
import com.networknt.schema.Schema;
import com.networknt.schema.SchemaRegistry;
import com.networknt.schema.SpecificationVersion;
import dev.loadwitness.reporter.Commands;
import dev.loadwitness.reporter.Commands.Said;
import dev.loadwitness.runlog.Shown;
import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.Arrays;
import java.util.List;
import java.util.Locale;

/** What must hold whatever a program was given. Breaking it is a finding, like an exception that nobody declared. */
final class Oracle {
    private static final ObjectMapper JSON = new ObjectMapper();
    private static final int LEAST_REFUSAL = 64;
    private static final int DEFECT = 70;
    private static Schema schema;

    private Oracle() {}

    /** Something that must never be. Named apart, so that no program can be meant to throw it. */
    static final class Finding extends AssertionError {
        private static final long serialVersionUID = 1L;

        Finding(String what) {
            super(what);
        }
    }

    static void hold(boolean condition, String otherwise) {
        if (!condition) {
            throw new Finding(otherwise);
        }
    }

    /** Nothing in it steers a terminal, hides or turns what stands beside it. */
    static void visible(String text, String where) {
        for (int i = 0; i < text.length(); i++) {
            char c = text.charAt(i);
            if ((c < ' ' || c > '~') && c != '\n') {
                text.codePoints()
                        .filter(p -> p != '\n' && !Shown.visible(p))
                        .findFirst()
                        .ifPresent(p -> hold(false, String.format(Locale.ROOT, "%s holds U+%04X as it is", where, p)));
                return;
            }
        }
    }

    static void json(byte[] document) {
        String text = new String(document, StandardCharsets.UTF_8);
        visible(text, "JSON");
        try {
            JSON.readTree(text);
        } catch (IOException e) {
            hold(false, "no JSON: " + e.getMessage());
        }
    }

    /** As the published schema says; slow. */
    static void verdict(byte[] document) {
        try {
            if (schema == null) {
                schema = SchemaRegistry.withDefaultDialect(SpecificationVersion.DRAFT_2020_12)
                        .getSchema(Files.readString(schemaFile()), InputFormat.JSON);
            }
        } catch (IOException e) {
            throw new IllegalStateException(e);
        }
        var wrong = schema.validate(new String(document, StandardCharsets.UTF_8), InputFormat.JSON);
        hold(wrong.isEmpty(), "not as docs/verdict.schema.json says: " + wrong);
    }

    private static Path schemaFile() {
        Path below = Path.of("docs", "verdict.schema.json");
        return Files.exists(below) ? below : Path.of("..").resolve(below);
    }

    /** Runs a command and looks at all that it does; the file given stays as it is. */
    static Said command(Path input, byte[] content, List<String> arguments) {
        Said said = Commands.run(arguments.toArray(String[]::new));
        String command = arguments.get(0);
        visible(said.out(), command);
        visible(said.err(), command + "'s complaint");
        hold(said.status() >= 0 && said.status() != DEFECT, command + " ends with a defect: " + said.err());
        if (said.status() >= LEAST_REFUSAL) {
            hold(!(said.out() + said.err()).isBlank(), command + " ends with " + said.status() + " and says nothing");
        } else {
            hold(!said.out().isBlank(), command + " ends with " + said.status() + " and prints no verdict");
        }
        try {
            hold(Arrays.equals(Files.readAllBytes(input), content), command + " changed its input");
        } catch (IOException e) {
            hold(false, command + " took its input away");
        }
        return said;
    }
}

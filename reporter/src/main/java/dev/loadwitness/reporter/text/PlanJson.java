// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import com.fasterxml.jackson.core.JsonFactory;
import com.fasterxml.jackson.core.JsonGenerator;
import com.fasterxml.jackson.core.util.DefaultIndenter;
import com.fasterxml.jackson.core.util.DefaultPrettyPrinter;
import dev.loadwitness.reporter.plan.SoakPlan;
import dev.loadwitness.runlog.Shown;
import java.io.IOException;
import java.io.StringWriter;
import java.io.UncheckedIOException;
import java.util.List;
import java.util.OptionalDouble;

/** A plan for programs. Times in seconds, rounded up to what a clock is set to. */
public final class PlanJson {
    private PlanJson() {}

    /**
     * Indented, ended by a line feed.
     *
     * @param totalSeconds of the whole run by the procedure named; null in the document without one
     * @param changes to that procedure
     */
    public static String write(SoakPlan plan, OptionalDouble totalSeconds, List<String> changes) {
        StringWriter out = new StringWriter();
        try (JsonGenerator json = new JsonFactory().createGenerator(out)) {
            DefaultIndenter indenter = new DefaultIndenter("  ", "\n");
            DefaultPrettyPrinter printer = new DefaultPrettyPrinter();
            printer.indentArraysWith(indenter);
            printer.indentObjectsWith(indenter);
            json.setPrettyPrinter(printer);
            json.writeStartObject();
            json.writeStringField("sentence", plan.sentence());
            json.writeNumberField("confidence", plan.confidence());
            json.writeNumberField("soakSeconds", Math.round(plan.soakSeconds()));
            json.writeArrayFieldStart("table");
            for (SoakPlan.Row row : plan.table()) {
                json.writeStartObject();
                json.writeNumberField("confidence", row.confidence());
                json.writeNumberField("soakSeconds", Math.round(row.soakSeconds()));
                json.writeEndObject();
            }
            json.writeEndArray();
            if (totalSeconds.isPresent()) {
                json.writeNumberField("totalSeconds", Math.round(totalSeconds.getAsDouble()));
            } else {
                json.writeNullField("totalSeconds");
            }
            texts(json, "changes", changes);
            texts(json, "warnings", plan.warnings());
            texts(json, "assumptions", plan.assumptions());
            json.writeEndObject();
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
        return Shown.json(out + "\n");
    }

    private static void texts(JsonGenerator json, String name, List<String> texts) throws IOException {
        json.writeArrayFieldStart(name);
        for (String text : texts) {
            json.writeString(text);
        }
        json.writeEndArray();
    }
}

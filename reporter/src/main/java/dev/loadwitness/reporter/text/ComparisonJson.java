// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import com.fasterxml.jackson.core.JsonFactory;
import com.fasterxml.jackson.core.JsonGenerator;
import com.fasterxml.jackson.core.util.DefaultIndenter;
import com.fasterxml.jackson.core.util.DefaultPrettyPrinter;
import dev.loadwitness.reporter.comparison.Comparison;
import dev.loadwitness.reporter.comparison.Difference;
import dev.loadwitness.reporter.statistics.Estimate;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.Shown;
import java.io.IOException;
import java.io.StringWriter;
import java.io.UncheckedIOException;
import java.math.BigDecimal;
import java.nio.charset.StandardCharsets;
import java.util.Optional;

/** A comparison for programs, as {@code docs/comparing.md} describes it. What is not known is null. */
public final class ComparisonJson {
    /** Raised in its first number when a reader of the earlier version would misread. */
    public static final String FORMAT = "1.0";

    private ComparisonJson() {}

    /** Indented UTF-8, ended by a line feed. */
    public static byte[] write(Comparison comparison) {
        StringWriter out = new StringWriter();
        try (JsonGenerator json = new JsonFactory().createGenerator(out)) {
            DefaultIndenter indenter = new DefaultIndenter("  ", "\n");
            DefaultPrettyPrinter printer = new DefaultPrettyPrinter();
            printer.indentArraysWith(indenter);
            printer.indentObjectsWith(indenter);
            json.setPrettyPrinter(printer);
            write(comparison, json);
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
        return Shown.json(out.append('\n').toString()).getBytes(StandardCharsets.UTF_8);
    }

    private static void write(Comparison comparison, JsonGenerator json) throws IOException {
        json.writeStartObject();
        json.writeStringField("format", FORMAT);
        run("first", comparison.first(), json);
        run("second", comparison.second(), json);
        json.writeNumberField("compared", comparison.compared());
        json.writeNumberField("significant", comparison.toldApart());
        json.writeNumberField("coverageFactor", Difference.FACTOR);
        json.writeNumberField("expectedByChance", new BigDecimal(comparison.expectedByChance()));
        json.writeArrayFieldStart("differences");
        for (Difference d : comparison.differences()) {
            json.writeStartObject();
            json.writeStringField("stage", d.stages());
            json.writeStringField("quantity", d.first().quantity().text());
            json.writeStringField("unit", d.first().quantity().unit());
            number("first", d.first().estimate(), json);
            number("second", d.second().estimate(), json);
            number("difference", d.difference(), json);
            if (d.difference().isPresent()) {
                json.writeNumberField(
                        "expandedUncertainty",
                        new BigDecimal(ComparisonText.expanded(d.difference().get())));
                json.writeBooleanField("significant", d.toldApart());
            } else {
                json.writeNullField("expandedUncertainty");
                json.writeNullField("significant");
            }
            json.writeArrayFieldStart("sharedSources");
            for (String source : d.cancelled()) {
                json.writeString(source);
            }
            json.writeEndArray();
            json.writeStringField("why", d.why());
            json.writeEndObject();
        }
        json.writeEndArray();
        json.writeArrayFieldStart("notes");
        for (String note : comparison.notes()) {
            json.writeString(note);
        }
        json.writeEndArray();
        json.writeEndObject();
    }

    private static void run(String name, Header header, JsonGenerator json) throws IOException {
        json.writeObjectFieldStart(name);
        json.writeStringField("id", header.runId());
        json.writeStringField("begun", header.utc().toString());
        json.writeStringField("ticket", header.ticket());
        json.writeBooleanField("simulated", header.simulated());
        json.writeEndObject();
    }

    private static void number(String name, Optional<Estimate> estimate, JsonGenerator json) throws IOException {
        if (estimate.isPresent()) {
            json.writeNumberField(name, new BigDecimal(ComparisonText.value(estimate.get())));
        } else {
            json.writeNullField(name);
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import com.fasterxml.jackson.core.JsonFactory;
import com.fasterxml.jackson.core.JsonGenerator;
import com.fasterxml.jackson.core.util.DefaultIndenter;
import com.fasterxml.jackson.core.util.DefaultPrettyPrinter;
import dev.loadwitness.reporter.criteria.Evidence;
import dev.loadwitness.reporter.criteria.Finding;
import dev.loadwitness.reporter.verdict.Verdict;
import java.io.IOException;
import java.io.StringWriter;
import java.io.UncheckedIOException;
import java.math.BigDecimal;
import java.math.RoundingMode;
import java.util.List;

/** The verdict for programs; its schema is {@code docs/verdict.schema.json}. The same verdict gives the same bytes. */
public final class VerdictJson {
    /** Raised when a member changes its meaning or goes away; new members do not raise it. */
    private static final String FORMAT = "loadwitness-verdict/1";

    private static final int PROBABILITY_DECIMALS = 6;

    private VerdictJson() {}

    /** The whole document, ending with a line feed. */
    public static String of(Verdict verdict) {
        StringWriter text = new StringWriter();
        DefaultPrettyPrinter printer = new DefaultPrettyPrinter()
                .withObjectIndenter(new DefaultIndenter("  ", "\n"))
                .withArrayIndenter(new DefaultIndenter("  ", "\n"));
        try (JsonGenerator json = new JsonFactory().createGenerator(text)) {
            json.setPrettyPrinter(printer);
            write(json, verdict);
        } catch (IOException e) {
            throw new UncheckedIOException(e); // a StringWriter does not fail
        }
        return text.append('\n').toString();
    }

    private static void write(JsonGenerator json, Verdict verdict) throws IOException {
        json.writeStartObject();
        json.writeStringField("format", FORMAT);
        json.writeStringField("outcome", verdict.outcome().word());
        json.writeStringField("sentence", verdict.sentence());
        json.writeStringField("method", verdict.methodVersion());
        json.writeStringField("run", verdict.header().runId());
        json.writeStringField("ticket", verdict.header().ticket());
        json.writeBooleanField("simulated", verdict.header().simulated());
        json.writeObjectFieldStart("procedure");
        json.writeStringField("name", verdict.procedure().name());
        json.writeBooleanField("own", verdict.ownProcedure());
        json.writeStringField("runSha256", verdict.header().procedure().sha256());
        json.writeEndObject();
        json.writeArrayFieldStart("findings");
        for (Finding f : verdict.findings()) {
            finding(json, f);
        }
        json.writeEndArray();
        json.writeArrayFieldStart("attempts");
        for (Verdict.Attempt a : verdict.attempts()) {
            json.writeStartObject();
            json.writeNumberField("number", a.number());
            json.writeStringField("run", a.runId());
            json.writeStringField("summary", a.summary());
            json.writeBooleanField("shown", a.shown());
            json.writeEndObject();
        }
        json.writeEndArray();
        texts(json, "demonstrated", verdict.demonstrated());
        texts(json, "notes", verdict.notes());
        texts(json, "logSha256", verdict.logSha256());
        json.writeStringField("lastChain", verdict.lastChain());
        json.writeEndObject();
    }

    private static void finding(JsonGenerator json, Finding f) throws IOException {
        json.writeStartObject();
        json.writeStringField("criterion", f.criterion().word());
        json.writeStringField("subject", f.subject());
        json.writeBooleanField("mandatory", f.mandatory());
        json.writeStringField("outcome", f.outcome().word());
        json.writeStringField("measured", f.measured());
        json.writeStringField("limit", f.limit());
        json.writeStringField("limitOrigin", f.limitOrigin());
        json.writeStringField("uncertainty", f.uncertainty());
        json.writeStringField("margin", f.margin());
        if (f.conformity().isPresent()) {
            json.writeNumberField(
                    "conformanceProbability",
                    BigDecimal.valueOf(f.conformity().getAsDouble())
                            .setScale(PROBABILITY_DECIMALS, RoundingMode.HALF_UP));
        }
        json.writeStringField("because", f.because());
        json.writeArrayFieldStart("evidence");
        for (Evidence e : f.evidence()) {
            json.writeStartObject();
            json.writeStringField("place", e.place());
            json.writeStringField("at", e.at());
            json.writeStringField("text", e.text());
            json.writeEndObject();
        }
        json.writeEndArray();
        json.writeEndObject();
    }

    private static void texts(JsonGenerator json, String name, List<String> texts) throws IOException {
        json.writeArrayFieldStart(name);
        for (String text : texts) {
            json.writeString(text);
        }
        json.writeEndArray();
    }
}

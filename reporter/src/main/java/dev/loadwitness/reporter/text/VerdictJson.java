// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import com.fasterxml.jackson.core.JsonFactory;
import com.fasterxml.jackson.core.JsonGenerator;
import com.fasterxml.jackson.core.StreamWriteFeature;
import com.fasterxml.jackson.core.util.DefaultIndenter;
import com.fasterxml.jackson.core.util.DefaultPrettyPrinter;
import dev.loadwitness.reporter.finding.Amount;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Measurement;
import dev.loadwitness.reporter.finding.Table;
import dev.loadwitness.reporter.finding.Unit;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.Shown;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import java.io.IOException;
import java.io.StringWriter;
import java.io.UncheckedIOException;
import java.nio.charset.StandardCharsets;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import org.jspecify.annotations.Nullable;

/**
 * The verdict for programs, as {@code docs/verdict.schema.json} describes it. Members come in a fixed order; what is not
 * known is null, never left out. The same verdict gives the same bytes.
 */
public final class VerdictJson {
    /** How every document of this format's major version begins. */
    public static final String BEGINNING = "{\n  \"format\" : \"1.";

    /** Raised in its first number when a reader of the earlier version would misread. */
    public static final String FORMAT = "1.2";

    // The shortest digits that give a number back: a runtime's own writing differs by its age.
    private static final JsonFactory JSON = JsonFactory.builder()
            .enable(StreamWriteFeature.USE_FAST_DOUBLE_WRITER)
            .build();

    private final JsonGenerator json;

    private VerdictJson(JsonGenerator json) {
        this.json = json;
    }

    /** Indented UTF-8, ended by a line feed. */
    public static byte[] write(Verdict verdict) {
        StringWriter out = new StringWriter();
        try {
            try (JsonGenerator generator = JSON.createGenerator(out)) {
                DefaultIndenter indenter = new DefaultIndenter("  ", "\n");
                DefaultPrettyPrinter printer = new DefaultPrettyPrinter();
                printer.indentArraysWith(indenter);
                printer.indentObjectsWith(indenter);
                generator.setPrettyPrinter(printer);
                new VerdictJson(generator).verdict(verdict);
            }
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
        return Shown.json(out.append('\n').toString()).getBytes(StandardCharsets.UTF_8);
    }

    private void verdict(Verdict verdict) throws IOException {
        json.writeStartObject();
        json.writeStringField("format", FORMAT);
        json.writeStringField("outcome", verdict.outcome().word());
        json.writeStringField("sentence", verdict.sentence());
        json.writeBooleanField("simulated", verdict.header().simulated());
        json.writeStringField("methodVersion", verdict.methodVersion());
        json.writeArrayFieldStart("findings");
        for (Finding finding : verdict.findings()) {
            finding(finding);
        }
        json.writeEndArray();
        texts("notes", verdict.notes());
        texts("demonstrated", verdict.demonstrated());
        attempts(verdict.attempts());
        run(verdict.header());
        procedure(verdict);
        jobSheet(verdict);
        texts("logSha256", verdict.logSha256());
        json.writeStringField("lastChain", verdict.lastChain());
        json.writeEndObject();
    }

    private void finding(Finding finding) throws IOException {
        json.writeStartObject();
        json.writeStringField("criterion", finding.criterion().word());
        json.writeStringField("subject", finding.subject());
        json.writeBooleanField("mandatory", finding.mandatory());
        json.writeStringField("outcome", finding.outcome().word());
        json.writeStringField("measured", finding.measured());
        json.writeStringField("limit", finding.limit());
        json.writeStringField("limitOrigin", finding.limitOrigin());
        json.writeStringField("uncertainty", finding.uncertainty());
        json.writeStringField("margin", finding.margin());
        number("conformity", finding.conformity());
        numbers(finding.measurement());
        json.writeStringField("because", finding.because());
        json.writeArrayFieldStart("evidence");
        for (Evidence evidence : finding.evidence()) {
            json.writeStartObject();
            json.writeStringField("place", evidence.place());
            json.writeStringField("at", evidence.at());
            json.writeStringField("text", evidence.text());
            json.writeEndObject();
        }
        json.writeEndArray();
        json.writeArrayFieldStart("tables");
        for (Table table : finding.tables()) {
            json.writeStartObject();
            json.writeStringField("title", table.title());
            texts("columns", table.columns());
            json.writeArrayFieldStart("rows");
            for (List<String> row : table.rows()) {
                json.writeStartArray();
                for (String cell : row) {
                    json.writeString(cell);
                }
                json.writeEndArray();
            }
            json.writeEndArray();
            json.writeEndObject();
        }
        json.writeEndArray();
        json.writeEndObject();
    }

    private void numbers(Measurement told) throws IOException {
        if (told.unit().isEmpty()) {
            json.writeNullField("numbers");
            return;
        }
        List<Amount> ends = told.limit().ends();
        json.writeObjectFieldStart("numbers");
        number("value", told.value().amount());
        text("unit", told.unit().map(Unit::ucum).orElse(null));
        text("side", told.limit().side().map(Limit.Side::word).orElse(null));
        number("limit", ends.stream().findFirst());
        number("upperLimit", ends.stream().skip(1).findFirst());
        number("uncertainty", told.expanded());
        number("margin", told.margin());
        json.writeEndObject();
    }

    private void attempts(List<Verdict.Attempt> attempts) throws IOException {
        json.writeArrayFieldStart("attempts");
        for (Verdict.Attempt attempt : attempts) {
            json.writeStartObject();
            json.writeNumberField("number", attempt.number());
            json.writeStringField("runId", attempt.runId());
            json.writeStringField("summary", attempt.summary());
            json.writeBooleanField("shown", attempt.shown());
            json.writeEndObject();
        }
        json.writeEndArray();
    }

    private void run(Header header) throws IOException {
        json.writeObjectFieldStart("run");
        json.writeStringField("id", header.runId());
        json.writeStringField("begun", header.utc().toString());
        json.writeStringField("ticket", header.ticket());
        json.writeStringField("nonce", header.nonce());
        json.writeStringField("agentVersion", header.agentVersion());
        number("ambientCelsius", header.ambientCelsius());
        json.writeStringField("ambientHow", header.ambientHow());
        json.writeObjectFieldStart("facts");
        for (Map.Entry<String, Map<String, String>> group : header.facts().entrySet()) {
            if (!header.withheld().contains(group.getKey())) {
                json.writeObjectFieldStart(group.getKey());
                for (Map.Entry<String, String> fact : group.getValue().entrySet()) {
                    if (!header.withheld().contains(fact.getKey())) {
                        json.writeStringField(fact.getKey(), fact.getValue());
                    }
                }
                json.writeEndObject();
            }
        }
        json.writeEndObject();
        texts("withheld", header.withheld());
        json.writeEndObject();
    }

    private void procedure(Verdict verdict) throws IOException {
        json.writeObjectFieldStart("procedure");
        json.writeStringField("name", verdict.procedure().name());
        json.writeStringField("title", verdict.procedure().title());
        json.writeNumberField("guardFactor", verdict.procedure().decision().guardFactor());
        json.writeBooleanField("own", verdict.ownProcedure());
        json.writeStringField("sha256OfRun", verdict.header().procedure().sha256());
        json.writeEndObject();
    }

    private void jobSheet(Verdict verdict) throws IOException {
        if (verdict.jobSheet().isEmpty()) {
            json.writeNullField("jobSheet");
            return;
        }
        JobSheet job = verdict.jobSheet().get();
        boolean withheld = verdict.header().withheld().contains("serial");
        json.writeObjectFieldStart("jobSheet");
        json.writeStringField("ticket", job.ticket());
        json.writeStringField("shop", job.shop());
        json.writeStringField("technician", job.technician());
        json.writeStringField("customer", job.customer());
        text("received", job.received().map(Object::toString).orElse(null));
        json.writeObjectFieldStart("machine");
        json.writeStringField("make", job.machine().make());
        json.writeStringField("model", job.machine().model());
        text("serial", withheld ? null : job.machine().serial());
        json.writeEndObject();
        json.writeStringField("reportedFault", job.reportedFault());
        texts("workDone", job.workDone());
        json.writeStringField("repairedRail", job.repairedRail());
        number("ratedGraphicsWatts", job.ratedGraphicsWatts());
        number("adapterWatts", job.adapterWatts());
        text("sha256", job.sha256().isEmpty() ? null : job.sha256());
        json.writeBooleanField("givenAfterRun", verdict.sheetGivenAfterRun());
        json.writeEndObject();
    }

    private void texts(String name, List<String> texts) throws IOException {
        json.writeArrayFieldStart(name);
        for (String text : texts) {
            json.writeString(text);
        }
        json.writeEndArray();
    }

    private void text(String name, @Nullable String valueOrNull) throws IOException {
        if (valueOrNull == null) {
            json.writeNullField(name);
        } else {
            json.writeStringField(name, valueOrNull);
        }
    }

    private void number(String name, Optional<Amount> amount) throws IOException {
        // Plus 0, since a distance of none has no sign.
        number(name, amount.stream().mapToDouble(a -> a.number() + 0.0).findFirst());
    }

    private void number(String name, OptionalDouble value) throws IOException {
        if (value.isPresent() && Double.isFinite(value.getAsDouble())) {
            json.writeNumberField(name, value.getAsDouble());
        } else {
            json.writeNullField(name);
        }
    }
}

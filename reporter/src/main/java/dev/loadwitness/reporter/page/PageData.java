// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import com.fasterxml.jackson.core.JsonFactory;
import com.fasterxml.jackson.core.JsonGenerator;
import com.fasterxml.jackson.core.SerializableString;
import com.fasterxml.jackson.core.io.CharacterEscapes;
import dev.loadwitness.reporter.chart.ChartGroup;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Shown;
import java.io.IOException;
import java.io.StringWriter;
import java.util.List;
import java.util.Map;
import org.jspecify.annotations.Nullable;

/** What the page's script works on, as JSON that can stand inside a script element. */
final class PageData {
    private PageData() {}

    static String json(List<ReviewedRun> runs) throws IOException {
        StringWriter text = new StringWriter();
        try (JsonGenerator json = new JsonFactory().createGenerator(text)) {
            json.setCharacterEscapes(new ForScript());
            json.writeStartObject();
            json.writeArrayFieldStart("runs");
            for (ReviewedRun run : runs) {
                run(json, run);
            }
            json.writeEndArray();
            json.writeEndObject();
        }
        return Shown.json(text.toString());
    }

    private static void run(JsonGenerator json, ReviewedRun run) throws IOException {
        json.writeStartObject();
        json.writeNumberField("period", run.scan().procedure().samplingPeriod().toNanos() / 1e9);
        json.writeArrayFieldStart("segments");
        for (Map.Entry<Integer, Boot> boot : run.readings().boots().entrySet()) {
            json.writeStartObject();
            json.writeNumberField("segment", boot.getKey());
            json.writeBooleanField("trusted", boot.getValue().utcTrusted());
            json.writeNumberField("utc", boot.getValue().utc().toEpochMilli());
            json.writeEndObject();
        }
        json.writeEndArray();
        json.writeArrayFieldStart("stages");
        for (StageTally s : run.scan().stages()) {
            json.writeStartObject();
            json.writeStringField("id", Shown.line(s.stage().id()));
            json.writeNumberField("segment", s.begin().segment());
            json.writeNumberField("from", s.begin().seconds());
            json.writeNumberField("to", s.end().seconds());
            json.writeStringField("why", Shown.line(s.why()));
            json.writeEndObject();
        }
        json.writeEndArray();
        json.writeArrayFieldStart("moments");
        for (Moment m : run.moments().list()) {
            json.writeStartObject();
            json.writeStringField("weight", m.weight().word());
            json.writeNumberField("segment", m.segment());
            json.writeNumberField("from", m.from());
            json.writeNumberField("to", m.to());
            json.writeStringField("title", Shown.line(m.title()));
            json.writeEndObject();
        }
        json.writeEndArray();
        if (run.cutShort().isPresent()) {
            json.writeObjectFieldStart("cut");
            json.writeNumberField("segment", run.cutShort().get().segment());
            json.writeNumberField("at", run.cutShort().get().seconds());
            json.writeEndObject();
        }
        channels(json, run);
        stretches(json, run);
        json.writeEndObject();
    }

    private static void channels(JsonGenerator json, ReviewedRun run) throws IOException {
        Map<String, String> names = Names.of(run.scan().channels());
        json.writeArrayFieldStart("channels");
        for (Channel c : run.scan().channels()) {
            ChartGroup quantity = ChartGroup.of(c);
            double scale = quantity.scale(run.readings().highest(c));
            json.writeStartObject();
            json.writeStringField("id", c.id());
            json.writeStringField("chart", quantity.key());
            json.writeStringField("name", Shown.line(names.getOrDefault(c.id(), c.id())));
            json.writeStringField(
                    "about",
                    Shown.line(c.id() + ", " + c.source() + (c.label().isBlank() ? "" : ", " + c.label())
                            + (c.component().isBlank() ? "" : ", " + c.component())));
            json.writeStringField("role", c.role().word());
            json.writeNumberField("scale", scale);
            json.writeBooleanField("limit", c.measures(Metric.POWER_LIMIT));
            json.writeNumberField("highest", run.readings().highest(c));
            json.writeArrayFieldStart("limits");
            if (quantity == ChartGroup.TEMPERATURE) {
                for (Map.Entry<LimitType, Double> limit : c.limits().entrySet()) {
                    json.writeStartObject();
                    json.writeNumberField("value", limit.getValue() * scale);
                    json.writeBooleanField("slowdown", limit.getKey() == LimitType.THROTTLED);
                    json.writeStringField("text", Names.role(c.role()) + " " + Names.limit(limit.getKey()));
                    json.writeEndObject();
                }
            }
            json.writeEndArray();
            json.writeEndObject();
        }
        json.writeEndArray();
    }

    private static void stretches(JsonGenerator json, ReviewedRun run) throws IOException {
        json.writeArrayFieldStart("stretches");
        for (Stretch s : run.readings().stretches()) {
            if (s.samples() == 0) {
                continue;
            }
            json.writeStartObject();
            json.writeNumberField("segment", s.segment);
            json.writeNumberField("samples", s.samples());
            json.writeStringField("millis", s.millis.finish());
            json.writeArrayFieldStart("utc");
            for (Long pair : s.utcOffsets) {
                json.writeNumber(pair);
            }
            json.writeEndArray();
            json.writeObjectFieldStart("columns");
            for (int i = 0; i < s.channels.size(); i++) {
                json.writeStringField(s.channels.get(i).id(), s.columns.get(i).finish());
            }
            json.writeEndObject();
            json.writeEndObject();
        }
        json.writeEndArray();
    }

    /** Nothing in the text can end the script element or begin a comment in it. */
    private static final class ForScript extends CharacterEscapes {
        private static final long serialVersionUID = 1L;

        private final int[] ascii = standardAsciiEscapesForJSON();

        ForScript() {
            for (char c : new char[] {'<', '>', '&', '\''}) {
                ascii[c] = ESCAPE_STANDARD;
            }
        }

        @Override
        public int[] getEscapeCodesForAscii() {
            return ascii.clone();
        }

        @Override
        public @Nullable SerializableString getEscapeSequence(int c) {
            return null;
        }
    }
}

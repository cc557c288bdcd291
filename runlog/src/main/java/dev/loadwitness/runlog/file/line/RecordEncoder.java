// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.line;

import static java.nio.charset.StandardCharsets.US_ASCII;

import com.fasterxml.jackson.core.JsonEncoding;
import com.fasterxml.jackson.core.JsonFactory;
import com.fasterxml.jackson.core.JsonGenerator;
import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.BootEvidence;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.EarlierAttempt;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Part;
import dev.loadwitness.runlog.RunTime;
import dev.loadwitness.runlog.Sample;
import dev.loadwitness.runlog.TornTail;
import dev.loadwitness.runlog.UnknownRecord;
import java.io.ByteArrayOutputStream;
import java.io.IOException;
import java.io.UncheckedIOException;
import java.time.Instant;
import java.util.Arrays;
import java.util.Map;

/**
 * Records as the bytes between record number and chain: {@code ,"type":…} up to the last member. The same record gives
 * the same bytes everywhere. The record number is the writer's: it changes when a record is written again to a new part.
 */
public final class RecordEncoder {
    private static final JsonFactory JSON = new JsonFactory();
    private static final byte[] SAMPLE = ",\"type\":\"sample\",\"seg\":".getBytes(US_ASCII);
    private static final byte[] TIME = ",\"t\":".getBytes(US_ASCII);
    private static final byte[] UTC = ",\"utc\":\"".getBytes(US_ASCII);
    private static final byte[] VALUES = "\",\"v\":[".getBytes(US_ASCII);
    private static final byte[] NULL = "null".getBytes(US_ASCII);
    private static final byte[] NUMBER = "{\"n\":".getBytes(US_ASCII);
    private static final int NUMBER_ROOM = 32;

    private RecordEncoder() {}

    public static byte[] body(LogRecord record) {
        byte[] body = record instanceof Sample sample ? sample(sample) : general(record);
        int limit =
                (record instanceof Header ? Format.MAX_HEADER : Format.MAX_LINE) - NUMBER_ROOM - Chain.SUFFIX_LENGTH;
        if (body.length > limit) {
            throw new IllegalArgumentException("a " + record.getClass().getSimpleName() + " of " + body.length
                    + " bytes does not fit a line of " + limit + "; shorten its texts");
        }
        return body;
    }

    /** The whole line with its line feed. {@code chainHex} goes in as the previous value and comes out as this one's. */
    public static byte[] line(long n, byte[] body, Chain chain, byte[] chainHex) {
        byte[] line = new byte[NUMBER.length + 20 + body.length + Chain.SUFFIX_LENGTH + 1];
        int at = put(NUMBER, line, 0);
        at = Decimal.put(n, line, at);
        at = put(body, line, at);
        chain.next(chainHex.clone(), line, 0, at, chainHex);
        at = Chain.putSuffix(chainHex, line, at);
        return Arrays.copyOf(line, at);
    }

    private static byte[] sample(Sample sample) {
        double[] values = sample.values();
        byte[] b = new byte[128 + 33 * values.length];
        int at = put(SAMPLE, b, 0);
        at = Decimal.put(sample.at().segment(), b, at);
        at = put(TIME, b, at);
        at = Decimal.put(sample.at().nanos(), b, at);
        at = put(UTC, b, at);
        at = put(UtcText.text(sample.utc()).getBytes(US_ASCII), b, at);
        at = put(VALUES, b, at);
        for (int i = 0; i < values.length; i++) {
            if (i > 0) {
                b[at++] = ',';
            }
            // An infinity is no reading either, and must not cost the rest of the sample.
            at = Double.isFinite(values[i]) ? Decimal.put(values[i], b, at) : put(NULL, b, at);
        }
        b[at++] = ']';
        return Arrays.copyOf(b, at);
    }

    private static int put(byte[] from, byte[] to, int at) {
        System.arraycopy(from, 0, to, at, from.length);
        return at + from.length;
    }

    private static byte[] general(LogRecord record) {
        ByteArrayOutputStream out = new ByteArrayOutputStream(512);
        try (JsonGenerator json = JSON.createGenerator(out, JsonEncoding.UTF8)) {
            json.writeStartObject();
            record.accept(new Members(json));
            json.writeEndObject();
        } catch (IOException e) {
            throw new UncheckedIOException("writing to memory does not fail", e);
        }
        byte[] object = out.toByteArray();
        object[0] = ',';
        return Arrays.copyOf(object, object.length - 1);
    }

    /** Writes the members of one record after {@code n}. */
    private static final class Members implements LogRecord.Handler<Void> {
        private final JsonGenerator json;

        Members(JsonGenerator json) {
            this.json = json;
        }

        @Override
        public Void header(Header h) {
            text("type", "header");
            text("format", Format.version());
            text("run", h.runId());
            utc(h.utc());
            text("ticket", h.ticket());
            text("nonce", h.nonce());
            array("earlier", () -> {
                for (EarlierAttempt attempt : h.earlier()) {
                    object(() -> {
                        text("run", attempt.runId());
                        text("chain", attempt.lastChain());
                        text("end", attempt.end());
                    });
                }
            });
            flag("simulated", h.simulated());
            object("facts", () -> h.facts().forEach((group, facts) -> object(group, () -> texts(facts))));
            array("withheld", () -> {
                for (String word : h.withheld()) {
                    json.writeString(clean(word));
                }
            });
            text("agent", h.agentVersion());
            attachment("procedure", h.procedure());
            h.jobSheet().ifPresent(sheet -> attachment("jobSheet", sheet));
            h.ambientCelsius()
                    .ifPresent(celsius -> object("ambient", () -> {
                        number("celsius", celsius);
                        text("how", h.ambientHow());
                    }));
            number("undurableSeconds", h.undurable().toNanos() / 1e9);
            return null;
        }

        @Override
        public Void part(Part p) {
            text("type", "part");
            text("run", p.runId());
            integer("part", p.number());
            integer("goodBytes", p.goodBytes());
            text("goodChain", p.goodChain());
            return null;
        }

        @Override
        public Void boot(Boot b) {
            text("type", "boot");
            at(b.at());
            utc(b.utc());
            text("bootId", b.bootId());
            if (Double.isFinite(b.bootTimeSeconds())) {
                number("bootTimeSeconds", b.bootTimeSeconds());
            }
            flag("utcTrusted", b.utcTrusted());
            b.torn().ifPresent(torn -> object("torn", () -> torn(torn)));
            return null;
        }

        private void torn(TornTail torn) {
            integer("offset", torn.offset());
            integer("length", torn.length());
            text("sha256", torn.sha256());
        }

        @Override
        public Void channels(ChannelTable table) {
            text("type", "channels");
            at(table.at());
            array("channels", () -> {
                for (Channel channel : table.channels()) {
                    object(() -> channel(channel));
                }
            });
            return null;
        }

        private void channel(Channel c) {
            text("id", c.id());
            text("metric", c.metric().name());
            text("unit", c.metric().unit());
            text("kind", c.metric().kind().word());
            text("role", c.role().word());
            text("component", c.component());
            text("label", c.label());
            text("source", c.source());
            c.cause().ifPresent(cause -> text("cause", cause.word()));
            if (Double.isFinite(c.resolution())) {
                number("resolution", c.resolution());
            }
            if (Double.isFinite(c.standardUncertainty())) {
                number("standardUncertainty", c.standardUncertainty());
            }
            object(
                    "limits",
                    () -> c.limits().forEach((type, value) -> {
                        if (Double.isFinite(value)) {
                            number(type.word(), value);
                        }
                    }));
        }

        @Override
        public Void bootEvidence(BootEvidence e) {
            text("type", "boot-evidence");
            at(e.at());
            object("facts", () -> texts(e.facts()));
            return null;
        }

        @Override
        public Void sample(Sample sample) {
            throw new AssertionError("samples are written by hand");
        }

        @Override
        public Void event(Event e) {
            text("type", "event");
            at(e.at());
            utc(e.utc());
            text("kind", e.kind());
            object("facts", () -> e.facts().forEach(this::fact));
            return null;
        }

        private void fact(String name, Object value) {
            if (value instanceof Double number) {
                number(name, number);
            } else if (value instanceof Boolean truth) {
                flag(name, truth);
            } else {
                text(name, value.toString());
            }
        }

        @Override
        public Void close(Close c) {
            text("type", "close");
            at(c.at());
            utc(c.utc());
            text("reason", c.reason());
            text("detail", c.detail());
            integer("samples", c.samples());
            integer("events", c.events());
            return null;
        }

        @Override
        public Void unknown(UnknownRecord unknown) {
            throw new IllegalArgumentException("a record of unknown type '" + unknown.type() + "' cannot be written");
        }

        private void attachment(String name, Attachment a) {
            object(name, () -> {
                text("name", a.name());
                text("text", a.text());
                text("sha256", a.sha256());
            });
        }

        private void at(RunTime at) {
            integer("seg", at.segment());
            integer("t", at.nanos());
        }

        private void utc(Instant utc) {
            text("utc", UtcText.text(utc));
        }

        private void texts(Map<String, String> texts) {
            texts.forEach(this::text);
        }

        private void text(String name, String value) {
            checked(() -> json.writeStringField(clean(name), clean(value)));
        }

        private void flag(String name, boolean value) {
            checked(() -> json.writeBooleanField(clean(name), value));
        }

        private void integer(String name, long value) {
            checked(() -> json.writeNumberField(name, value));
        }

        private void number(String name, double value) {
            checked(() -> {
                json.writeFieldName(clean(name));
                json.writeNumber(Decimal.text(value));
            });
        }

        private void object(String name, Step members) {
            checked(() -> json.writeFieldName(clean(name)));
            object(members);
        }

        private void object(Step members) {
            checked(() -> {
                json.writeStartObject();
                members.take();
                json.writeEndObject();
            });
        }

        private void array(String name, Step elements) {
            checked(() -> {
                json.writeArrayFieldStart(name);
                elements.take();
                json.writeEndArray();
            });
        }

        private static void checked(Step step) {
            try {
                step.take();
            } catch (IOException e) {
                throw new UncheckedIOException("writing to memory does not fail", e);
            }
        }

        @FunctionalInterface
        private interface Step {
            void take() throws IOException;
        }
    }

    /** Half a surrogate pair has no UTF-8: drivers' labels and kernel messages may hold one, and must not stop the log. */
    private static String clean(String text) {
        for (int i = 0; i < text.length(); i++) {
            if (Character.isSurrogate(text.charAt(i))) {
                StringBuilder out = new StringBuilder(text.length());
                text.codePoints()
                        .map(c -> c >= Character.MIN_SURROGATE && c <= Character.MAX_SURROGATE ? 0xFFFD : c)
                        .forEach(out::appendCodePoint);
                return out.toString();
            }
        }
        return text;
    }
}

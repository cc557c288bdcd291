// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.probe;

import com.fasterxml.jackson.core.JsonFactory;
import com.fasterxml.jackson.core.JsonGenerator;
import dev.loadwitness.agent.evidence.Quality;
import dev.loadwitness.agent.load.LoadLauncher;
import dev.loadwitness.agent.load.worker.ComputeDevice;
import dev.loadwitness.agent.place.AppendTime;
import dev.loadwitness.agent.place.FileSystem;
import dev.loadwitness.agent.place.LogPlace;
import dev.loadwitness.agent.sensor.Missing;
import dev.loadwitness.agent.work.GpuChoice;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Role;
import java.io.IOException;
import java.io.StringWriter;
import java.io.UncheckedIOException;
import java.math.BigDecimal;
import java.math.RoundingMode;
import java.time.Duration;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Optional;

/** What a probe found, as text and as JSON. */
@SuppressWarnings("ArrayRecordComponent") // made once, printed once
public record ProbeReport(
        Map<String, Map<String, String>> facts,
        LoadLauncher.Listing gpus,
        List<Channel> channels,
        double[] values,
        List<Missing> missing,
        List<Unjudged> unjudged,
        List<WithoutRoot> withoutRoot,
        List<Quality> evidence,
        LogPlace place,
        Duration period) {
    public String text() {
        StringBuilder s = new StringBuilder();
        s.append("This machine\n");
        facts.forEach((group, named) -> {
            List<String> told = FactWords.lines(named);
            s.append(String.format(Locale.ROOT, "  %-9s ", group));
            s.append(told.isEmpty() ? "not told" : String.join("\n            ", told))
                    .append('\n');
        });
        s.append("\nWhat GPU loads can run on\n");
        if (!gpus.problem().isEmpty()) {
            s.append("  ").append(gpus.problem()).append('\n');
        }
        for (ComputeDevice device : gpus.devices()) {
            device(s, device);
        }
        s.append("\nWhat can be measured\n");
        if (channels.isEmpty()) {
            s.append("  nothing\n");
        }
        for (Role role : Role.values()) {
            for (int i = 0; i < channels.size(); i++) {
                if (channels.get(i).role() == role) {
                    channel(s, channels.get(i), values[i]);
                }
            }
        }
        s.append("\nWhat is missing\n");
        if (missing.isEmpty()) {
            s.append("  nothing that this version knows of\n");
        }
        for (Missing m : missing) {
            s.append("  ").append(m.what()).append(": ").append(m.why()).append('\n');
            s.append("      ").append(m.whatToDo()).append('\n');
        }
        s.append("  ").append(WithoutRoot.line(withoutRoot)).append('\n');
        s.append("\nCriteria that stay unjudged\n");
        if (unjudged.isEmpty()) {
            s.append("  none\n");
        }
        for (Unjudged u : unjudged) {
            s.append(String.format(
                            Locale.ROOT,
                            "  %-20s %-14s needs %s%s%n",
                            u.criterion().word(),
                            u.part().word(),
                            u.missing(),
                            u.mandatory() ? "   (mandatory: the verdict can be no better than inconclusive)" : "")
                    .replace(System.lineSeparator(), "\n"));
        }
        s.append("\nEvidence if the machine dies\n");
        for (Quality q : evidence) {
            s.append("  ")
                    .append(q.what())
                    .append(q.there() ? ": " : ": no, ")
                    .append(q.found())
                    .append('\n');
            if (!q.whatToDo().isEmpty()) {
                s.append("      ").append(q.whatToDo()).append('\n');
            }
        }
        s.append("\nWhere the log would go\n");
        place.lines(period, channels.size())
                .forEach(line -> s.append("  ").append(line).append('\n'));
        return s.toString();
    }

    private void device(StringBuilder s, ComputeDevice device) {
        String role = GpuChoice.role(device).map(Role::word).orElse("no GPU");
        s.append(String.format(Locale.ROOT, "  %-14s %s%n", role, device.describe())
                .replace(System.lineSeparator(), "\n"));
        s.append(String.format(
                        Locale.ROOT,
                        "      %d compute units, %d MHz, %d MiB%s, largest buffer %d MiB%s%n",
                        device.computeUnits(),
                        device.clockMegahertz(),
                        device.memoryBytes() >> 20,
                        device.hostMemory() ? " of main memory" : "",
                        device.allocationBytes() >> 20,
                        device.peakGflops()
                                .map(p -> String.format(Locale.ROOT, ", peak %.0f GFLOP/s", p))
                                .orElse(""))
                .replace(System.lineSeparator(), "\n"));
        if (GpuChoice.role(device).isEmpty()) {
            s.append("      only with --opencl-device and any part of its name\n");
        } else {
            List<String> sensors = sensors(device);
            s.append("      ")
                    .append(
                            sensors.isEmpty()
                                    ? "no sensor of this address: its power and temperature are not known"
                                    : "sensors of this address: " + String.join(", ", sensors))
                    .append('\n');
        }
    }

    private List<String> sensors(ComputeDevice device) {
        return channels.stream()
                .filter(c -> device.pciAddress().equals(Optional.of(c.component())))
                .map(Channel::id)
                .toList();
    }

    private static void channel(StringBuilder s, Channel c, double value) {
        s.append(String.format(Locale.ROOT, "  %-14s %-34s %14s %s", c.role().word(), c.id(), number(value), unit(c)));
        c.limits()
                .forEach((type, limit) ->
                        s.append("   ").append(type.word()).append(' ').append(number(limit)));
        s.append('\n');
    }

    private static String unit(Channel c) {
        return c.metric().unit().equals("1") ? "" : c.metric().unit();
    }

    private static String number(double value) {
        if (!Double.isFinite(value)) {
            return "no answer";
        }
        return BigDecimal.valueOf(value)
                .setScale(3, RoundingMode.HALF_UP)
                .stripTrailingZeros()
                .toPlainString();
    }

    public String json() {
        StringWriter text = new StringWriter();
        try (JsonGenerator json = new JsonFactory().createGenerator(text)) {
            json.useDefaultPrettyPrinter();
            write(json);
        } catch (IOException e) {
            throw new UncheckedIOException(e); // a StringWriter does not fail
        }
        return text.append('\n').toString();
    }

    private void write(JsonGenerator json) throws IOException {
        json.writeStartObject();
        json.writeStringField("format", "loadwitness-probe/1");
        json.writeObjectFieldStart("facts");
        for (Map.Entry<String, Map<String, String>> group : facts.entrySet()) {
            json.writeObjectFieldStart(group.getKey());
            for (Map.Entry<String, String> fact : group.getValue().entrySet()) {
                json.writeStringField(fact.getKey(), fact.getValue());
            }
            json.writeEndObject();
        }
        json.writeEndObject();
        json.writeArrayFieldStart("devices");
        for (ComputeDevice device : gpus.devices()) {
            write(json, device);
        }
        json.writeEndArray();
        json.writeStringField("devicesProblem", gpus.problem());
        json.writeArrayFieldStart("channels");
        for (int i = 0; i < channels.size(); i++) {
            write(json, channels.get(i), values[i]);
        }
        json.writeEndArray();
        json.writeArrayFieldStart("missing");
        for (Missing m : missing) {
            json.writeStartObject();
            json.writeStringField("what", m.what());
            json.writeStringField("why", m.why());
            json.writeStringField("whatToDo", m.whatToDo());
            json.writeEndObject();
        }
        json.writeEndArray();
        json.writeArrayFieldStart("unjudged");
        for (Unjudged u : unjudged) {
            json.writeStartObject();
            json.writeStringField("criterion", u.criterion().word());
            json.writeStringField("part", u.part().word());
            json.writeBooleanField("mandatory", u.mandatory());
            json.writeStringField("needs", u.missing());
            json.writeEndObject();
        }
        json.writeEndArray();
        json.writeArrayFieldStart("withoutRoot");
        for (WithoutRoot w : withoutRoot) {
            json.writeStartObject();
            json.writeStringField("what", w.what());
            json.writeStringField("costs", w.costs());
            json.writeEndObject();
        }
        json.writeEndArray();
        json.writeArrayFieldStart("evidence");
        for (Quality q : evidence) {
            json.writeStartObject();
            json.writeStringField("what", q.what());
            json.writeBooleanField("there", q.there());
            json.writeStringField("found", q.found());
            json.writeStringField("whatToDo", q.whatToDo());
            json.writeEndObject();
        }
        json.writeEndArray();
        place(json);
        json.writeEndObject();
    }

    private void place(JsonGenerator json) throws IOException {
        json.writeObjectFieldStart("place");
        json.writeStringField(
                "folder", place.folder().toAbsolutePath().normalize().toString());
        if (place.fileSystem().isPresent()) {
            FileSystem fileSystem = place.fileSystem().get();
            json.writeStringField("fileSystem", fileSystem.type());
            json.writeBooleanField("memory", fileSystem.memory());
            json.writeBooleanField("readOnly", fileSystem.readOnly());
            json.writeNumberField("freeBytes", fileSystem.freeBytes());
        }
        json.writeStringField("refused", place.refused());
        if (place.append().isPresent()) {
            AppendTime append = place.append().get();
            number(json, "appendMedianSeconds", append.medianSeconds());
            number(json, "appendP99Seconds", append.p99Seconds());
            json.writeNumberField("appends", append.appends());
            number(json, "samplingSeconds", period.toNanos() / 1e9);
            number(
                    json,
                    "oldestUndurableSeconds",
                    append.oldestUndurable(period).toNanos() / 1e9);
        }
        json.writeEndObject();
    }

    private void write(JsonGenerator json, ComputeDevice d) throws IOException {
        json.writeStartObject();
        json.writeStringField("name", d.name());
        json.writeStringField("vendor", d.vendor());
        json.writeStringField("driver", d.driver());
        json.writeStringField("type", d.type().name().toLowerCase(Locale.ROOT));
        if (GpuChoice.role(d).isPresent()) {
            json.writeStringField("role", GpuChoice.role(d).get().word());
        }
        if (d.pciAddress().isPresent()) {
            json.writeStringField("address", d.pciAddress().get());
        }
        json.writeNumberField("memoryBytes", d.memoryBytes());
        json.writeNumberField("allocationBytes", d.allocationBytes());
        json.writeBooleanField("hostMemory", d.hostMemory());
        json.writeNumberField("computeUnits", d.computeUnits());
        json.writeNumberField("clockMegahertz", d.clockMegahertz());
        json.writeNumberField("workGroup", d.workGroup());
        number(json, "peakGflops", d.peakGflops().orElse(Double.NaN));
        json.writeArrayFieldStart("sensors");
        for (String id : sensors(d)) {
            json.writeString(id);
        }
        json.writeEndArray();
        json.writeEndObject();
    }

    private static void write(JsonGenerator json, Channel c, double value) throws IOException {
        json.writeStartObject();
        json.writeStringField("id", c.id());
        json.writeStringField("metric", c.metric().name());
        json.writeStringField("unit", c.metric().unit());
        json.writeStringField("role", c.role().word());
        json.writeStringField("source", c.source());
        number(json, "value", value);
        json.writeObjectFieldStart("limits");
        for (Map.Entry<LimitType, Double> e : c.limits().entrySet()) {
            number(json, e.getKey().word(), e.getValue());
        }
        json.writeEndObject();
        json.writeEndObject();
    }

    /** No answer is {@code null}, never a number. */
    private static void number(JsonGenerator json, String name, double value) throws IOException {
        if (Double.isFinite(value)) {
            json.writeNumberField(name, value);
        } else {
            json.writeNullField(name);
        }
    }
}

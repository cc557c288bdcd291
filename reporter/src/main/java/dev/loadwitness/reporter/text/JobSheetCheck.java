// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import com.fasterxml.jackson.core.JsonFactory;
import com.fasterxml.jackson.core.JsonGenerator;
import com.fasterxml.jackson.core.util.DefaultPrettyPrinter;
import dev.loadwitness.runlog.Shown;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.jobsheet.OpenItem;
import dev.loadwitness.runlog.jobsheet.PhotoCheck;
import dev.loadwitness.runlog.yaml.Problem;
import java.io.IOException;
import java.io.StringWriter;
import java.io.UncheckedIOException;
import java.util.List;

/**
 * What was found when a job sheet was checked, for a terminal and for programs.
 *
 * @param problems empty for a sheet that can be used
 */
public record JobSheetCheck(String fileName, List<Problem> problems, List<OpenItem> open, List<PhotoCheck> photos) {
    public JobSheetCheck {
        problems = List.copyOf(problems);
        open = List.copyOf(open);
        photos = List.copyOf(photos);
    }

    /** Of a sheet that was read. */
    public static JobSheetCheck of(String fileName, JobSheet sheet, List<PhotoCheck> photos) {
        return new JobSheetCheck(fileName, List.of(), OpenItem.of(sheet), photos);
    }

    /** True if a photo is there and is not the one that the sheet names. */
    public boolean photoDiffers() {
        return photos.stream().anyMatch(p -> p.state() == PhotoCheck.State.DIFFERS);
    }

    /** Lines ended by line feeds, at most {@code width} columns. */
    public String text(int width) {
        StringBuilder out = new StringBuilder();
        if (!problems.isEmpty()) {
            for (Problem p : problems) {
                lines(out, "", fileName + " line " + p.line() + ", column " + p.column() + ": " + p.text(), width);
            }
            return out.toString();
        }
        lines(out, "", fileName + " is a job sheet without mistakes.", width);
        for (PhotoCheck photo : photos) {
            lines(out, "  ", photo.photo().file() + ": " + said(photo), width);
        }
        if (open.isEmpty()) {
            lines(out, "", "Nothing is open.", width);
            return out.toString();
        }
        lines(out, "", "Still open:", width);
        open.forEach(item -> lines(out, "  ", item.key() + ": " + item.text(), width));
        return out.toString();
    }

    private static String said(PhotoCheck photo) {
        return switch (photo.state()) {
            case MATCHES -> "the file is the one that the sheet names";
            case DIFFERS ->
                "the file is not the one that the sheet names: its SHA-256 is " + photo.found()
                        + "; put the right photo there, or the new digest into the sheet";
            case NOT_THERE -> "not beside the sheet, so not checked";
            case NO_DIGEST -> "no digest on the sheet; write sha256: " + photo.found();
        };
    }

    private static void lines(StringBuilder out, String indent, String text, int width) {
        String lead = indent;
        for (String line : Wrap.lines(text, Math.max(width, 30) - indent.length() - 2)) {
            out.append((lead + line).stripTrailing()).append('\n');
            lead = indent + "  ";
        }
    }

    /** One object, indented, ended by a line feed. */
    public String json() {
        StringWriter out = new StringWriter();
        try (JsonGenerator json = new JsonFactory().createGenerator(out)) {
            json.setPrettyPrinter(new DefaultPrettyPrinter());
            json.writeStartObject();
            json.writeStringField("file", fileName);
            json.writeBooleanField("valid", problems.isEmpty());
            json.writeArrayFieldStart("problems");
            for (Problem p : problems) {
                json.writeStartObject();
                json.writeNumberField("line", p.line());
                json.writeNumberField("column", p.column());
                json.writeStringField("text", p.text());
                json.writeEndObject();
            }
            json.writeEndArray();
            json.writeArrayFieldStart("open");
            for (OpenItem item : open) {
                json.writeStartObject();
                json.writeStringField("key", item.key());
                json.writeStringField("text", item.text());
                json.writeEndObject();
            }
            json.writeEndArray();
            json.writeArrayFieldStart("photos");
            for (PhotoCheck photo : photos) {
                json.writeStartObject();
                json.writeStringField("file", photo.photo().file());
                json.writeStringField("state", photo.state().word());
                json.writeStringField("stated", photo.photo().sha256());
                json.writeStringField("found", photo.found());
                json.writeEndObject();
            }
            json.writeEndArray();
            json.writeEndObject();
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
        return Shown.json(out.append('\n').toString());
    }
}

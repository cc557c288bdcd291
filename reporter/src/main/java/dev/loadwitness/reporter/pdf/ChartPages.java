// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import com.lowagie.text.Image;
import com.lowagie.text.Rectangle;
import com.lowagie.text.pdf.PdfPCell;
import com.lowagie.text.pdf.PdfPTable;
import com.lowagie.text.pdf.PdfWriter;
import dev.loadwitness.reporter.scan.Mark;
import dev.loadwitness.reporter.scan.Series;
import dev.loadwitness.reporter.scan.StageSpan;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.stream.Collectors;

/** The course of the run: charts, then the stages, events and channels that they number. */
final class ChartPages {
    private static final float WIDTH = 488;
    private static final int EVENTS_LISTED = 60;

    private final Blocks blocks;
    private final PdfWriter writer;
    private final List<Series> series;
    private final Timeline time;

    ChartPages(Blocks blocks, PdfWriter writer, List<Series> series, List<StageSpan> stages, List<Mark> marks) {
        this.blocks = blocks;
        this.writer = writer;
        this.series = series;
        this.time = new Timeline(series, stages, marks);
    }

    void write() {
        blocks.newPage();
        blocks.heading("The course of the run");
        Map<Quantity, List<Trace>> traces = traces();
        List<Trace> shown = new ArrayList<>();
        for (Quantity quantity : Quantity.values()) {
            List<Trace> lines = traces.getOrDefault(quantity, List.of());
            if (lines.isEmpty()) {
                blocks.paragraph(quantity.title + ": no channel of this run measured it, so there is nothing to draw.");
            }
            int charts = (lines.size() + Chart.LINES - 1) / Chart.LINES;
            for (int i = 0; i < charts; i++) {
                String title = quantity.title + (charts == 1 ? "" : " (" + (i + 1) + " of " + charts + ")");
                List<Trace> part = lines.subList(i * Chart.LINES, Math.min((i + 1) * Chart.LINES, lines.size()));
                place(new Chart(blocks.type, quantity, title, part, time, WIDTH));
            }
            shown.addAll(lines);
        }
        if (!shown.isEmpty()) {
            blocks.quiet("Lines are means of equal stretches of time; with one or two lines, the pale band spans their"
                    + " lowest and highest readings. Bands are stages (S), dotted uprights are events (E): both are listed"
                    + " below. A gap in a line means that nothing was read.");
        }
        if (time.segments() > time.drawn().size()) {
            blocks.paragraph("The run has " + time.segments() + " stretches between restarts; the first "
                    + time.drawn().size() + " are drawn.");
        }
        stages();
        events();
        channels(shown);
    }

    private Map<Quantity, List<Trace>> traces() {
        Map<String, List<Series>> byChannel = series.stream()
                .collect(Collectors.groupingBy(s -> s.channel().id(), LinkedHashMap::new, Collectors.toList()));
        Map<Quantity, List<Trace>> traces = new LinkedHashMap<>();
        byChannel.values().forEach(channel -> {
            Channel of = channel.get(0).channel();
            Optional<Quantity> quantity = Quantity.of(of.metric());
            if (quantity.isPresent() && !drawnAsPower(of)) {
                Trace trace = Trace.of(quantity.get(), channel);
                if (trace.hasReadings()) {
                    traces.computeIfAbsent(quantity.get(), q -> new ArrayList<>())
                            .add(trace);
                }
            }
        });
        return traces;
    }

    /** An energy counter's rate is power; where the part's power is there too, one line is enough. */
    private boolean drawnAsPower(Channel channel) {
        return channel.metric().name().equals(Metric.ENERGY.name())
                && series.stream().anyMatch(s -> s.channel().is(channel.role(), Metric.POWER));
    }

    private void place(Chart chart) {
        Image image = Image.getInstance(chart.draw(writer));
        PdfPTable table = blocks.table(1);
        PdfPCell cell = new PdfPCell(image, false);
        cell.setBorder(Rectangle.NO_BORDER);
        cell.setPadding(0);
        cell.setPaddingTop(3);
        cell.setPaddingBottom(6);
        table.addCell(cell);
        blocks.add(table);
    }

    private void stages() {
        if (time.stages.isEmpty()) {
            blocks.paragraph("No stage of the procedure was begun.");
            return;
        }
        blocks.heading("Stages");
        PdfPTable table = header(List.of("", "Stage", "Stretch", "From", "To", "Ended"), 7, 37, 12, 12, 12, 20);
        for (int i = 0; i < time.stages.size(); i++) {
            StageSpan stage = time.stages.get(i);
            table.addCell(blocks.value("S" + (i + 1)));
            table.addCell(blocks.value(stage.stage()));
            table.addCell(blocks.value(stretch(stage.segment())));
            table.addCell(blocks.value(Words.clock(stage.startSeconds())));
            table.addCell(blocks.value(Words.clock(stage.endSeconds())));
            table.addCell(blocks.value(stage.end()));
        }
        blocks.add(table);
    }

    private void events() {
        blocks.heading("Events");
        if (time.marks.isEmpty()) {
            blocks.paragraph("None that a chart would show.");
            return;
        }
        PdfPTable table = header(List.of("", "Stretch", "At", "Event"), 7, 12, 12, 69);
        int listed = Math.min(EVENTS_LISTED, time.marks.size());
        for (int i = 0; i < listed; i++) {
            Mark mark = time.marks.get(i);
            table.addCell(blocks.value("E" + (i + 1)));
            table.addCell(blocks.value(stretch(mark.segment())));
            table.addCell(blocks.value(Words.clock(mark.atSeconds())));
            table.addCell(blocks.value(mark.text()));
        }
        blocks.add(table);
        if (listed < time.marks.size()) {
            blocks.paragraph((time.marks.size() - listed) + " more events are in the run log.");
        }
    }

    private void channels(List<Trace> shown) {
        if (shown.isEmpty()) {
            return;
        }
        blocks.heading("Channels drawn");
        PdfPTable table = header(List.of("Channel", "Part", "Source", "Step", "Standard u"), 34, 22, 22, 11, 11);
        for (Trace trace : shown) {
            Channel channel = trace.series().get(0).channel();
            table.addCell(blocks.value(channel.id()));
            table.addCell(blocks.value(
                    Words.role(channel.role()) + (channel.label().isBlank() ? "" : " (" + channel.label() + ")")));
            table.addCell(blocks.value(channel.source()));
            table.addCell(blocks.value(quality(channel.resolution(), channel.metric())));
            table.addCell(blocks.value(quality(channel.standardUncertainty(), channel.metric())));
        }
        blocks.add(table);
    }

    private static String quality(double value, Metric metric) {
        return Double.isFinite(value)
                ? Words.number(value, metric.unit().equals("Cel") ? "°C" : metric.unit())
                : "unknown";
    }

    private static String stretch(int segment) {
        return segment == 0 ? "start" : "restart " + segment;
    }

    private PdfPTable header(List<String> heads, float... shares) {
        PdfPTable table = blocks.table(shares);
        heads.forEach(head -> table.addCell(blocks.head(head)));
        table.setHeaderRows(1);
        return table;
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import com.lowagie.text.Image;
import com.lowagie.text.Rectangle;
import com.lowagie.text.pdf.PdfPCell;
import com.lowagie.text.pdf.PdfPTable;
import dev.loadwitness.reporter.chart.PrintedChart;
import dev.loadwitness.reporter.pdf.chart.Chart;
import dev.loadwitness.reporter.pdf.chart.Course;
import dev.loadwitness.reporter.pdf.chart.Timeline;
import dev.loadwitness.reporter.pdf.chart.Trace;
import dev.loadwitness.reporter.pdf.paper.Blocks;
import dev.loadwitness.reporter.pdf.paper.Ink;
import dev.loadwitness.reporter.pdf.paper.Words;
import dev.loadwitness.reporter.scan.series.Mark;
import dev.loadwitness.reporter.scan.series.Series;
import dev.loadwitness.reporter.scan.stage.StageSpan;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.stream.Collectors;

/** The course of the run: charts, then the stages and events that they number. */
final class ChartPages {
    private static final int EVENTS_LISTED = 300;
    /** In a small chart more parts cannot be named. */
    private static final int SMALL_LINES = 2;
    /** What a repaired graphics rail is judged by comes first. */
    private static final List<Role> TELLING = List.of(Role.GPU_DISCRETE, Role.GPU_INTEGRATED, Role.CPU, Role.MEMORY);

    private final Blocks blocks;
    private final Course course;
    private final boolean outlineOnly;
    private final Timeline time;
    private final Map<PrintedChart, List<Trace>> traces;

    /** @param outlineOnly leave the charts empty */
    ChartPages(Blocks blocks, Course course, boolean outlineOnly) {
        this.blocks = blocks;
        this.outlineOnly = outlineOnly;
        this.course = course;
        this.time = new Timeline(course);
        this.traces = traces(course.series());
    }

    /** One small chart for each quantity, with one line for a part, two by two or all in one row. */
    PdfPTable small(boolean oneRow, float height) {
        int columns = oneRow ? 4 : 2;
        float width = blocks.width() / columns - 7;
        PdfPTable table = oneRow ? blocks.table(1, 1, 1, 1) : blocks.table(1, 1);
        for (PrintedChart quantity : PrintedChart.values()) {
            List<Trace> lines = traces.getOrDefault(quantity, List.of()).stream()
                    .filter(t -> TELLING.contains(t.channel().role()) && !t.isLimit())
                    .collect(Collectors.toMap(t -> t.channel().role(), t -> t, (first, second) -> first))
                    .values()
                    .stream()
                    .sorted(Comparator.comparingInt(
                            t -> TELLING.indexOf(t.channel().role())))
                    .limit(SMALL_LINES)
                    .toList();
            PdfPCell cell;
            if (lines.isEmpty()) {
                cell = blocks.cell(
                        blocks.text("course.nothing", blocks.words.title(quantity)),
                        blocks.type.regular(Blocks.SMALL, Ink.QUIET));
            } else {
                // The title's line is part of the height.
                Chart chart = Chart.small(
                        blocks.type, blocks.words, quantity, lines, time, width, height - (oneRow ? 26 : 17));
                cell = new PdfPCell(Image.getInstance(chart.draw(blocks.writer, outlineOnly)), false);
            }
            cell.setBorder(Rectangle.NO_BORDER);
            cell.setFixedHeight(height + 2);
            cell.setPadding(0);
            cell.setPaddingTop(2);
            cell.setPaddingRight(7);
            table.addCell(cell);
        }
        return table;
    }

    /** Gives the page that they begin on. */
    int write() {
        blocks.heading(blocks.text("course.heading"), 60 + Chart.PLOT_HEIGHT);
        int page = blocks.writer.getPageNumber();
        for (PrintedChart quantity : PrintedChart.values()) {
            List<Trace> lines = traces.getOrDefault(quantity, List.of());
            String name = blocks.words.title(quantity);
            if (lines.isEmpty()) {
                blocks.paragraph(blocks.text("course.nothing", name));
            }
            int charts = (lines.size() + Chart.LINES - 1) / Chart.LINES;
            for (int i = 0; i < charts; i++) {
                String title = charts == 1
                        ? name
                        : blocks.text("course.part", name, Integer.toString(i + 1), Integer.toString(charts));
                List<Trace> part = lines.subList(i * Chart.LINES, Math.min((i + 1) * Chart.LINES, lines.size()));
                place(Chart.full(blocks.type, blocks.words, quantity, title, part, time, blocks.width()));
            }
        }
        if (!traces.isEmpty()) {
            blocks.quiet(blocks.text("course.note"));
        }
        if (time.segments() > time.drawn().size()) {
            blocks.paragraph(blocks.text(
                    "course.stretches",
                    Integer.toString(time.segments()),
                    Integer.toString(time.drawn().size())));
        }
        stages();
        events();
        return page;
    }

    private static Map<PrintedChart, List<Trace>> traces(List<Series> series) {
        Map<String, List<Series>> byChannel = series.stream()
                .collect(Collectors.groupingBy(s -> s.channel().id(), LinkedHashMap::new, Collectors.toList()));
        Map<PrintedChart, List<Trace>> traces = new LinkedHashMap<>();
        byChannel.values().forEach(channel -> {
            Channel of = channel.get(0).channel();
            Optional<PrintedChart> quantity = PrintedChart.of(of.metric());
            if (quantity.isPresent() && !drawnAsPower(of, series)) {
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
    private static boolean drawnAsPower(Channel channel, List<Series> series) {
        return channel.measures(Metric.ENERGY)
                && series.stream().anyMatch(s -> s.channel().is(channel.role(), Metric.POWER));
    }

    private void place(Chart chart) {
        Image image = Image.getInstance(chart.draw(blocks.writer, outlineOnly));
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
        blocks.heading(blocks.text("stages.heading"));
        if (time.stages.isEmpty()) {
            blocks.paragraph(blocks.text("stages.none"));
            return;
        }
        PdfPTable table = blocks.table(7, 33, 14, 11, 11, 11, 13);
        table.addCell(blocks.head(""));
        for (String head : List.of("stage", "stretch", "from", "to", "watts", "ended")) {
            table.addCell(blocks.head(blocks.text("stages.column." + head)));
        }
        table.setHeaderRows(1);
        for (int i = 0; i < time.stages.size(); i++) {
            StageSpan stage = time.stages.get(i);
            double watts = course.heldWatts().get(i);
            table.addCell(blocks.value("S" + (i + 1)));
            table.addCell(blocks.value(stage.stage()));
            table.addCell(blocks.value(Timeline.stretch(blocks.words, stage.segment())));
            table.addCell(blocks.value(Words.clock(stage.startSeconds())));
            table.addCell(blocks.value(Words.clock(stage.endSeconds())));
            table.addCell(blocks.value(Double.isFinite(watts) ? blocks.words.number(Math.rint(watts), "W") : "–"));
            table.addCell(blocks.value(stage.end()));
        }
        blocks.add(table);
    }

    /** Two beside each other: a run with hundreds of them stays a few pages. */
    private void events() {
        blocks.heading(blocks.text("events.heading"));
        if (time.marks.isEmpty()) {
            blocks.paragraph(blocks.text("events.none"));
            return;
        }
        int listed = Math.min(EVENTS_LISTED, time.marks.size());
        boolean two = listed > 12;
        PdfPTable table = two ? blocks.table(6, 12, 9, 23, 6, 12, 9, 23) : blocks.table(7, 16, 12, 65);
        for (int half = 0; half < (two ? 2 : 1); half++) {
            table.addCell(blocks.head(""));
            table.addCell(blocks.head(blocks.text("stages.column.stretch")));
            table.addCell(blocks.head(blocks.text("events.column.at")));
            table.addCell(blocks.head(blocks.text("events.column.event")));
        }
        table.setHeaderRows(1);
        for (int i = 0; i < listed; i++) {
            Mark mark = time.marks.get(i);
            for (String cell : List.of(
                    "E" + (i + 1),
                    Timeline.stretch(blocks.words, mark.segment()),
                    Words.clock(mark.atSeconds()),
                    mark.text())) {
                table.addCell(two ? blocks.listed(cell) : blocks.value(cell));
            }
        }
        table.completeRow();
        blocks.add(table);
        if (listed < time.marks.size()) {
            blocks.paragraph(blocks.text("events.more", blocks.words.count(time.marks.size() - listed)));
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import dev.loadwitness.reporter.criteria.Evidence;
import dev.loadwitness.reporter.criteria.Finding;
import dev.loadwitness.reporter.criteria.Outcome;
import dev.loadwitness.reporter.criteria.Table;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.Need;
import java.io.IOException;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.EnumSet;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Optional;
import java.util.Set;
import java.util.stream.Collectors;
import java.util.stream.Stream;

/** The page as it stands before its script runs: everything in words and tables, and empty places for the charts. */
final class Layout {
    /** A table of more columns cannot be read. */
    private static final int MOST_STAGE_COLUMNS = 100;

    private static final Set<Quantity> READ_BEFORE_END = EnumSet.of(
            Quantity.TEMPERATURE,
            Quantity.POWER,
            Quantity.CLOCK,
            Quantity.FAN,
            Quantity.WORK,
            Quantity.UTILIZATION,
            Quantity.CHARGE,
            Quantity.VOLTAGE);

    /** Of a reading's size, and kelvins: what moved by less in the last readings is steady (ours). */
    private static final double STEADY_SHARE = 0.05;

    private static final double STEADY_KELVIN = 1;

    private final List<Run> runs;
    private final String program;
    private final Markup page = new Markup();

    Layout(List<Run> runs, String program) {
        this.runs = runs;
        this.program = program;
    }

    String write() throws IOException {
        Run first = runs.get(0);
        boolean simulated = runs.stream().anyMatch(r -> r.verdict().header().simulated());
        String policy = "default-src 'none'; script-src " + Assets.hash(Assets.libraryScript()) + " "
                + Assets.hash(Assets.script()) + "; style-src " + Assets.hash(Assets.libraryStyle()) + " "
                + Assets.hash(Assets.style()) + "; img-src data:; base-uri 'none'; form-action 'none'";
        page.raw("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n")
                .raw("<meta http-equiv=\"Content-Security-Policy\" content=\"")
                .text(policy)
                .raw("\">\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n")
                .raw("<meta name=\"color-scheme\" content=\"light dark\">\n")
                .raw("<meta name=\"referrer\" content=\"no-referrer\">\n<title>")
                .text(title(first))
                .raw("</title>\n<link rel=\"icon\" href=\"data:,\">\n<style>")
                .raw(Assets.libraryStyle())
                .raw("</style>\n<style>")
                .raw(Assets.style())
                .raw("</style>\n</head>\n<body")
                .raw(simulated ? " class=\"simulated\"" : "")
                .raw(">\n<a class=\"skip\" href=\"#charts\">Skip to the charts</a>\n")
                .raw("<a class=\"skip\" href=\"#criteria\">Skip to the criteria</a>\n");
        page.raw("<header>\n");
        if (simulated) {
            page.raw("<p class=\"stamp\">SIMULATED: no machine was measured.</p>\n");
        }
        for (int i = 0; i < runs.size(); i++) {
            verdict(runs.get(i), i);
        }
        page.raw("</header>\n<main>\n<div class=\"look\">\n");
        tools();
        charts();
        page.raw("</div>\n<div class=\"why\">\n");
        for (int i = 0; i < runs.size(); i++) {
            beforeEnd(runs.get(i), i);
        }
        for (int i = 0; i < runs.size(); i++) {
            criteria(runs.get(i), i);
        }
        for (int i = 0; i < runs.size(); i++) {
            moments(runs.get(i), i);
        }
        for (int i = 0; i < runs.size(); i++) {
            remarks(runs.get(i), i);
        }
        about();
        page.raw(
                        "</div>\n</main>\n<noscript><p class=\"stamp\">The charts need the script inside this page; all that stands")
                .raw(" in words and tables is shown without it.</p></noscript>\n")
                .raw("<script type=\"application/json\" id=\"data\">")
                .raw(PageData.json(runs))
                .raw("</script>\n<script>")
                .raw(Assets.libraryScript())
                .raw("</script>\n<script>")
                .raw(Assets.script())
                .raw("</script>\n</body>\n</html>\n");
        return page.toString();
    }

    private static String title(Run run) {
        String ticket = run.verdict().header().ticket();
        return Names.loud(Names.ofRun(run.verdict().outcome())) + (ticket.isBlank() ? "" : ", " + ticket)
                + ": review of a burn-in run";
    }

    /** {@code A} and {@code B} where there are two; nothing where there is one. */
    private String letter(int run) {
        return runs.size() == 1 ? "" : run == 0 ? "A" : "B";
    }

    private String of(int run) {
        return runs.size() == 1 ? "" : ", run " + letter(run);
    }

    private void verdict(Run run, int index) {
        Verdict verdict = run.verdict();
        Outcome outcome = Names.ofRun(verdict.outcome());
        page.raw("<section class=\"verdict ").raw(outcome.word()).raw(index == 0 ? "" : " second");
        page.raw("\" aria-label=\"Verdict").text(of(index)).raw("\">\n");
        page.raw(shape(outcome, "shape")).raw("\n<div class=\"said\">");
        page.raw(index == 0 ? "<h1>" : "<h2 class=\"h1\">")
                .raw(letter(index).isEmpty() ? "" : "<span class=\"letter\">" + letter(index) + "</span> ")
                .text(Names.loud(outcome))
                .raw(index == 0 ? "</h1>" : "</h2>");
        page.element("p", "sentence", verdict.sentence()).raw("</div>\n<dl class=\"facts\">");
        fact("Ticket", verdict.header().ticket());
        fact("Machine", machine(verdict));
        fact(
                "Tested",
                run.scan().stages().stream()
                        .map(s -> s.stage().id() + " " + Names.duration(s.seconds()))
                        .collect(Collectors.joining(", ")));
        fact("Procedure", verdict.procedure().name() + (verdict.ownProcedure() ? "" : " (not the run's own)"));
        fact("Began", Names.utc(verdict.header().utc()));
        fact(
                "Room",
                verdict.header().ambientCelsius().isPresent()
                        ? Names.number(verdict.header().ambientCelsius().getAsDouble()) + " °C"
                        : "not taken");
        fact("Run", verdict.header().runId());
        page.raw("</dl>\n</section>\n");
    }

    private static String machine(Verdict verdict) {
        Optional<JobSheet.Machine> sheet = verdict.jobSheet().map(JobSheet::machine);
        String told = sheet.map(m -> Stream.of(m.make(), m.model()))
                .orElseGet(Stream::of)
                .filter(s -> !s.isBlank())
                .collect(Collectors.joining(" "));
        return told.isEmpty()
                ? Stream.of(
                                verdict.header().fact("machine", "make"),
                                verdict.header().fact("machine", "model"))
                        .filter(s -> !s.isBlank())
                        .collect(Collectors.joining(" "))
                : told;
    }

    private void fact(String name, String value) {
        if (!value.isBlank()) {
            page.raw("<div>")
                    .element("dt", "", name)
                    .raw("<dd><bdi>")
                    .text(value)
                    .raw("</bdi></dd></div>");
        }
    }

    /** Word, colour and shape say the same: a tick in a circle, a cross in an octagon, a bar in a triangle. */
    private static String shape(Outcome outcome, String cssClass) {
        String drawing =
                switch (outcome) {
                    case PASS -> "<circle cx=\"12\" cy=\"12\" r=\"11\"/><path class=\"in\" d=\"M6.5 12.5l4 4 7-8.5\"/>";
                    case FAIL ->
                        "<path d=\"M7.5 1h9L23 7.5v9L16.5 23h-9L1 16.5v-9z\"/><path class=\"in\" d=\"M8 8l8 8M16 8l-8 8\"/>";
                    case INCONCLUSIVE ->
                        "<path d=\"M12 1.5L23.5 22H.5z\"/><path class=\"in\" d=\"M12 8.5v6.5M12 18v1.5\"/>";
                    case NOT_MEASURED -> "<path d=\"M12 1l11 11-11 11L1 12z\"/><path class=\"in\" d=\"M8 12h8\"/>";
                    case NOT_APPLICABLE ->
                        "<rect x=\"2\" y=\"2\" width=\"20\" height=\"20\" rx=\"4\"/><path class=\"in\" d=\"M7 17L17 7\"/>";
                };
        return "<svg class=\"" + cssClass + " " + outcome.word()
                + "\" viewBox=\"0 0 24 24\" aria-hidden=\"true\" focusable=\"false\">" + drawing + "</svg>";
    }

    private void tools() {
        page.raw(
                "<section class=\"tools\" aria-label=\"Time\">\n<div class=\"bar\" role=\"toolbar\" aria-label=\"View\">");
        for (String[] b : new String[][] {
            {"whole", "Whole run", "0"},
            {"last", "Last minute", "L"},
            {"back", "Back", "B"},
            {"in", "+", "+"},
            {"out", "−", "-"},
            {"left", "◂", "Page Up"},
            {"right", "▸", "Page Down"}
        }) {
            String spoken =
                    switch (b[0]) {
                        case "in" -> "Zoom in";
                        case "out" -> "Zoom out";
                        case "left" -> "Earlier";
                        case "right" -> "Later";
                        case "back" -> "Back to the view before";
                        default -> b[1];
                    };
            page.raw("<button type=\"button\" data-do=\"" + b[0] + "\" title=\"" + spoken + " (" + b[2]
                    + ")\" aria-label=\"" + spoken + "\">" + b[1] + "</button>");
        }
        if (runs.size() > 1) {
            page.raw(
                    "<label class=\"align\">Align B with A by <select id=\"align\"><option value=\"\">start of run</option>");
            Set<String> shared = runs.get(1).scan().stages().stream()
                    .map(s -> s.stage().id())
                    .collect(Collectors.toSet());
            runs.get(0).scan().stages().stream()
                    .map(s -> s.stage().id())
                    .distinct()
                    .filter(shared::contains)
                    .forEach(id -> page.raw("<option value=\"")
                            .text(id)
                            .raw("\">stage ")
                            .text(id)
                            .raw("</option>"));
            page.raw("</select></label>");
        }
        page.raw("<output id=\"readout\" class=\"readout\"></output></div>\n")
                .raw("<div id=\"timeline\" class=\"timeline\" aria-hidden=\"true\"></div>\n")
                .raw("<p id=\"spoken\" class=\"unseen\" aria-live=\"polite\"></p>\n</section>\n");
    }

    private void charts() {
        page.raw(
                "<section id=\"charts\" class=\"charts\" tabindex=\"0\" role=\"group\" aria-label=\"Charts on one time axis."
                        + " Left and right move the crosshair, plus and minus zoom, Page Up and Page Down move the view,"
                        + " 0 shows the whole run.\">\n<h2 class=\"unseen\">Charts</h2>\n");
        for (Quantity quantity : Quantity.values()) {
            Map<String, Integer> shown = new LinkedHashMap<>();
            for (int r = 0; r < runs.size(); r++) {
                for (Channel c : runs.get(r).scan().channels()) {
                    if (Quantity.of(c) == quantity) {
                        shown.putIfAbsent(c.id(), r);
                    }
                }
            }
            if (shown.isEmpty()) {
                continue;
            }
            page.raw("<section class=\"chart\" id=\"chart-" + quantity.key() + "\" data-chart=\"" + quantity.key()
                    + "\" data-zero=\"" + quantity.fromZero + "\" aria-label=\"");
            page.text(quantity.title).raw("\">\n<h3>").text(quantity.title).raw(" <span class=\"unit\">");
            page.text(quantity.unit)
                    .raw("</span></h3>\n<div class=\"plot\" aria-hidden=\"true\"></div>\n<ul class=\"legend\"></ul>\n");
            page.raw("<details class=\"table\"><summary>Lowest and highest by stage</summary>");
            for (int r = 0; r < runs.size(); r++) {
                extremes(runs.get(r), r, quantity);
            }
            page.raw("</details>\n</section>\n");
        }
        page.raw("</section>\n");
    }

    /** What the chart shows, for whoever cannot see it. */
    private void extremes(Run run, int index, Quantity quantity) {
        List<Channel> channels = run.scan().channels().stream()
                .filter(c -> Quantity.of(c) == quantity)
                .toList();
        List<StageTally> all = run.scan().stages();
        List<StageTally> stages = all.subList(0, Math.min(all.size(), MOST_STAGE_COLUMNS));
        if (channels.isEmpty() || stages.isEmpty()) {
            return;
        }
        Map<String, String> names = Names.of(run.scan().channels());
        page.raw("<div class=\"scroll\" tabindex=\"0\" role=\"group\" aria-label=\"")
                .text(quantity.title);
        page.text(" by stage" + of(index)).raw("\"><table><caption>");
        page.text(quantity.title + ", " + quantity.unit + ": lowest to highest, and when the highest was read"
                + of(index));
        page.raw("</caption><thead><tr><th scope=\"col\">Channel</th>");
        stages.forEach(s -> page.raw("<th scope=\"col\">").text(s.stage().id()).raw("</th>"));
        page.raw("</tr></thead><tbody>");
        for (Channel c : channels) {
            double scale = quantity.scale(run.readings().highest(c));
            page.raw("<tr><th scope=\"row\">").text(names.get(c.id())).raw("</th>");
            for (int s = 0; s < stages.size(); s++) {
                Readings.Extremes e = run.readings().extremes(c.id(), s);
                page.raw("<td>");
                if (e == null) {
                    page.raw("no reading");
                } else {
                    page.text(Names.number(e.lowest * scale) + " to " + Names.number(e.highest * scale) + ", at "
                            + clock(stages.get(s).begin().segment(), e.highestAt));
                }
                page.raw("</td>");
            }
            page.raw("</tr>");
        }
        page.raw("</tbody></table></div>");
        if (stages.size() < all.size()) {
            page.element("p", "", "Of " + all.size() + " stages, the first " + stages.size() + " are in this table.");
        }
    }

    private static String clock(int segment, double seconds) {
        return new At(new dev.loadwitness.runlog.file.Place(1, 0, 0), segment, seconds).clock();
    }

    private void beforeEnd(Run run, int index) {
        Optional<At> cut = run.cutShort();
        if (cut.isEmpty()) {
            return;
        }
        Readings.Stretch stretch = run.readings().stretches().stream()
                .filter(s -> s.segment == cut.get().segment() && s.samples() > 0)
                .reduce((a, b) -> b)
                .orElse(null);
        if (stretch == null) {
            return;
        }
        List<Readings.Kept> kept = List.copyOf(stretch.ending);
        Map<String, String> names = Names.of(run.scan().channels());
        page.raw("<section class=\"panel\" aria-labelledby=\"end-" + index + "\"><h2 id=\"end-" + index
                        + "\">The last ")
                .text(kept.size() == 1 ? "reading" : kept.size() + " readings")
                .text(of(index))
                .raw("</h2>\n<p>");
        page.text("The last one is of " + cut.get().clock() + " of run time, "
                        + Names.utc(kept.get(kept.size() - 1).utc()) + "; nothing was recorded after it. ")
                .raw(jump(
                        index,
                        cut.get().segment(),
                        cut.get().seconds() - Run.LAST_SECONDS,
                        cut.get().seconds(),
                        "",
                        "Show the last minute"));
        page.raw(
                "</p>\n<div class=\"scroll\" tabindex=\"0\" role=\"group\" aria-label=\"Last readings\"><table class=\"last\"><thead><tr><th scope=\"col\">reading</th>");
        double end = kept.get(kept.size() - 1).seconds();
        for (Readings.Kept k : kept) {
            page.raw("<th scope=\"col\">")
                    .text(k.seconds() == end ? "last" : "−" + Names.duration(end - k.seconds()))
                    .raw("<br><span class=\"quiet\">")
                    .text(clock(stretch.segment, k.seconds()))
                    .raw("</span></th>");
        }
        page.raw("<th scope=\"col\">unit</th><th scope=\"col\">trend</th></tr></thead><tbody>");
        for (Quantity quantity : Quantity.values()) {
            for (int i = 0; READ_BEFORE_END.contains(quantity) && i < stretch.channels.size(); i++) {
                Channel c = stretch.channels.get(i);
                if (Quantity.of(c) == quantity) {
                    lastReadings(
                            kept,
                            i,
                            names.get(c.id()),
                            quantity,
                            quantity.scale(run.readings().highest(c)));
                }
            }
        }
        page.raw("</tbody></table></div>\n<p class=\"quiet\">")
                .text("Steady: moved by no more than " + Names.number(100 * STEADY_SHARE)
                        + " % of its highest here, or by " + Names.number(STEADY_KELVIN) + " K.")
                .raw("</p></section>\n");
    }

    private void lastReadings(List<Readings.Kept> kept, int column, String name, Quantity quantity, double scale) {
        double first = kept.get(0).values()[column] * scale;
        double last = kept.get(kept.size() - 1).values()[column] * scale;
        double most = kept.stream()
                .mapToDouble(k -> Math.abs(k.values()[column] * scale))
                .max()
                .orElse(0);
        double steady = quantity == Quantity.TEMPERATURE ? STEADY_KELVIN : STEADY_SHARE * most;
        String moved = Double.isNaN(first) || Double.isNaN(last)
                ? "–"
                : Math.abs(last - first) <= steady ? "steady" : last < first ? "▼ falling" : "▲ rising";
        page.raw(moved.equals("steady") ? "<tr>" : "<tr class=\"moved\">").raw("<th scope=\"row\">");
        // The unit tells the others apart.
        boolean percent = quantity == Quantity.WORK || quantity == Quantity.UTILIZATION || quantity == Quantity.CHARGE;
        page.text(percent ? name + ", " + quantity.title.toLowerCase(Locale.ROOT) : name);
        page.raw("</th>");
        for (int i = 0; i < kept.size(); i++) {
            page.element(
                    "td",
                    i == kept.size() - 1 ? "now" : "",
                    Names.number(kept.get(i).values()[column] * scale));
        }
        page.element("td", "unit", quantity == Quantity.WORK ? "%" : quantity.unit)
                .element("td", "change", moved)
                .raw("</tr>");
    }

    private static String jump(int run, int segment, double from, double to, String chart, String text) {
        return String.format(
                        Locale.ROOT,
                        "<button type=\"button\" class=\"jump\" data-run=\"%d\" data-segment=\"%d\" data-from=\"%.3f\" data-to=\"%.3f\" data-chart=\"%s\">",
                        run,
                        segment,
                        Math.max(0, from),
                        to,
                        chart)
                + Markup.escaped(text) + "</button>";
    }

    private void criteria(Run run, int index) {
        page.raw("<section class=\"panel\" id=\"criteria" + (index == 0 ? "" : "-" + index) + "\" aria-labelledby=\"c-"
                + index + "\"><h2 id=\"c-" + index + "\">Criteria");
        page.text(of(index)).raw("</h2>\n<ol class=\"criteria\">\n");
        List<Finding> worstFirst = new ArrayList<>(run.verdict().findings());
        worstFirst.sort(Comparator.comparingInt(Layout::rank));
        for (Finding f : worstFirst) {
            finding(run, index, f);
        }
        page.raw("</ol></section>\n");
    }

    private static int rank(Finding f) {
        int open =
                switch (f.outcome()) {
                    case FAIL -> 0;
                    case INCONCLUSIVE -> 1;
                    case NOT_MEASURED -> 2;
                    case PASS -> 3;
                    case NOT_APPLICABLE -> 4;
                };
        return f.mandatory() ? open : open + 5;
    }

    private void finding(Run run, int index, Finding f) {
        boolean quiet = f.outcome() == Outcome.PASS || f.outcome() == Outcome.NOT_APPLICABLE;
        page.raw("<li class=\"finding ")
                .raw(f.outcome().word())
                .raw("\"><details")
                .raw(quiet ? "" : " open");
        page.raw("><summary>").raw(shape(f.outcome(), "mark"));
        page.element("span", "word", Names.loud(f.outcome()))
                .raw(" ")
                .element("b", "", f.criterion().word());
        page.raw(" <span class=\"quiet\">")
                .text(Stream.of(f.subject(), f.mandatory() ? "" : "advisory")
                        .filter(s -> !s.isBlank())
                        .collect(Collectors.joining(", ")))
                .raw("</span>");
        if (!f.measured().isBlank()) {
            page.element("span", "measured", f.measured());
        }
        page.raw("</summary>\n").element("p", "", f.because());
        page.raw("<dl class=\"numbers\">");
        for (String[] pair : new String[][] {
            {"measured", f.measured()},
            {"limit", f.limit()},
            {"from", f.limitOrigin()},
            {"U (k = 2)", f.uncertainty()},
            {"margin", f.margin()}
        }) {
            if (!pair[1].isBlank()) {
                page.raw("<div>")
                        .element("dt", "", pair[0])
                        .element("dd", "", pair[1])
                        .raw("</div>");
            }
        }
        page.raw("</dl>");
        if (!f.evidence().isEmpty()) {
            page.raw("<ul class=\"evidence\">");
            for (Evidence e : f.evidence()) {
                evidence(run, index, f, e);
            }
            page.raw("</ul>");
        }
        if (f.criterion() == Criterion.INTERRUPTIONS) {
            f.tables().forEach(this::table);
        }
        page.raw("</details></li>\n");
    }

    private void table(Table table) {
        page.raw("<details class=\"told\"><summary>").text(table.title()).raw("</summary><div class=\"scroll\"");
        page.raw(" tabindex=\"0\" role=\"group\" aria-label=\"")
                .text(table.title())
                .raw("\"><table><thead><tr>");
        table.columns().forEach(c -> page.raw("<th scope=\"col\">").text(c).raw("</th>"));
        page.raw("</tr></thead><tbody>");
        for (List<String> row : table.rows()) {
            page.raw("<tr>");
            row.forEach(cell -> page.element("td", "", cell));
            page.raw("</tr>");
        }
        page.raw("</tbody></table></div></details>");
    }

    private void evidence(Run run, int index, Finding f, Evidence e) {
        String words = (e.at().isBlank() ? "" : e.at() + " ") + e.text();
        Readings.Found found = run.readings().found(e.place());
        page.raw("<li>");
        if (found == null) {
            page.text(e.place().isBlank() ? words : e.place() + ": " + words).raw("</li>");
            return;
        }
        page.raw(jump(index, found.segment(), found.seconds(), found.seconds(), chart(f), words))
                .raw(" ")
                .element("span", "quiet", e.place())
                .raw("</li>");
    }

    /** The chart that shows what a criterion needs to be judged; empty if none does more than another. */
    private static String chart(Finding f) {
        return f.criterion().needs().stream()
                .map(Need::anyOf)
                .flatMap(List::stream)
                .findFirst()
                .map(metric -> Quantity.of(metric).key())
                .orElse("");
    }

    private void moments(Run run, int index) {
        List<Moment> list = run.moments().list();
        page.raw("<section class=\"panel\" aria-labelledby=\"m-" + index + "\"><h2 id=\"m-" + index
                + "\">What happened");
        page.text(of(index))
                .raw("</h2>\n<label class=\"filter\"><input type=\"checkbox\" data-all=\"" + index
                        + "\"> every event of the log</label>\n<ol class=\"moments\" data-run=\"" + index + "\">\n");
        for (int i = 0; i < list.size(); i++) {
            Moment m = list.get(i);
            String weight = m.weight().name().toLowerCase(Locale.ROOT);
            page.raw(String.format(
                    Locale.ROOT,
                    "<li class=\"%s\"><button type=\"button\" class=\"jump moment\" data-run=\"%d\" data-number=\"%d\" data-segment=\"%d\" data-from=\"%.3f\" data-to=\"%.3f\">",
                    weight,
                    index,
                    i,
                    m.segment(),
                    m.from(),
                    m.to()));
            page.raw(mark(m.weight()))
                    .element("span", "at", clock(m.segment(), m.from()))
                    .raw("<span class=\"what\"><bdi>");
            page.text(m.title()).raw("</bdi>");
            if (m.to() > m.from()) {
                page.raw(" <span class=\"quiet\">")
                        .text("for " + Names.duration(m.to() - m.from()))
                        .raw("</span>");
            }
            if (!m.detail().isBlank()) {
                page.raw(" <bdi class=\"quiet\">").text(m.detail()).raw("</bdi>");
            }
            page.raw("</span></button></li>\n");
        }
        page.raw("</ol>\n");
        if (list.stream().allMatch(m -> m.weight() == Moment.Weight.DETAIL)) {
            page.raw("<p class=\"quiet\">The log tells of no event here; what failed is under Criteria.</p>");
        }
        if (run.moments().leftOut() > 0) {
            page.element(
                    "p", "quiet", run.moments().leftOut() + " further events stand in the log and not in this list.");
        }
        page.raw("</section>\n");
    }

    private static String mark(Moment.Weight weight) {
        return switch (weight) {
            case FAULT ->
                "<svg class=\"sign\" viewBox=\"0 0 12 12\" role=\"img\" aria-label=\"fault\"><path d=\"M6 0l6 6-6 6-6-6z\"/></svg>";
            case NOTICE ->
                "<svg class=\"sign\" viewBox=\"0 0 12 12\" role=\"img\" aria-label=\"notice\"><path d=\"M6 1l6 10H0z\"/></svg>";
            case DETAIL ->
                "<svg class=\"sign\" viewBox=\"0 0 12 12\" role=\"img\" aria-label=\"event\"><circle cx=\"6\" cy=\"6\" r=\"3\"/></svg>";
        };
    }

    private void remarks(Run run, int index) {
        Verdict verdict = run.verdict();
        page.raw("<section class=\"panel\" aria-labelledby=\"r-" + index + "\"><h2 id=\"r-" + index + "\">Notes");
        page.text(of(index)).raw("</h2>\n<ul class=\"notes\">");
        verdict.demonstrated().forEach(s -> page.element("li", "", s));
        verdict.notes().forEach(s -> page.element("li", "", s));
        verdict.attempts().forEach(a -> page.element("li", "", "Attempt " + a.number() + ": " + a.summary()));
        page.raw("</ul>\n<dl class=\"digests\">");
        verdict.logSha256().forEach(d -> fact("SHA-256 of the log", d));
        fact("Last chain value", verdict.lastChain());
        page.raw("</dl></section>\n");
    }

    private void about() {
        page.raw("<section class=\"panel\" aria-labelledby=\"about\"><h2 id=\"about\">This page</h2>\n<p>");
        page.text("Made by " + program + ". It holds every reading of the log, with seven digits, and asks nothing of a"
                + " network. A line is broken where nothing was read; where readings lie closer than the screen's dots,"
                + " their lowest and highest are drawn. Counters are drawn as growth a second. This page is not signed:"
                + " what counts is the log, and the report made from it.");
        page.raw("</p>\n<details><summary>Licence of the charting library (uPlot)</summary><pre>");
        Assets.libraryLicence().lines().forEach(line -> page.text(line).raw("\n"));
        page.raw("</pre></details></section>\n");
    }
}

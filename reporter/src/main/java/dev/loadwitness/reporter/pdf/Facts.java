// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.pdf.chart.Course;
import dev.loadwitness.reporter.pdf.paper.Words;
import dev.loadwitness.reporter.scan.stage.StageSpan;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.Word;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.jobsheet.Power;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.Stage;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import java.util.function.Function;
import java.util.stream.Collectors;
import java.util.stream.Stream;

/** What the pages say about item, job and run, put together from job sheet, header and course. */
final class Facts {
    private final Words words;
    private final Verdict verdict;
    private final Header header;
    private final Optional<JobSheet> job;
    private final Course course;

    Facts(Words words, Verdict verdict, Course course) {
        this.words = words;
        this.verdict = verdict;
        this.header = verdict.header();
        this.job = verdict.jobSheet();
        this.course = course;
    }

    /** A text of the job sheet, or that nobody stated it. */
    String text(Function<JobSheet, String> field) {
        return words.stated(job.map(field).orElse(""));
    }

    /** A text of the job sheet; empty if nobody stated it. */
    String optional(Function<JobSheet, String> field) {
        return job.map(field).orElse("");
    }

    String listed(Function<JobSheet, List<String>> field) {
        return words.stated(String.join("; ", job.map(field).orElse(List.of())));
    }

    /** Who lets the report go out: the technician, unless the sheet names another. */
    String authorisedBy() {
        String named = optional(j -> j.issuer().authorisedBy());
        return named.isBlank() ? text(JobSheet::technician) : named;
    }

    String rated() {
        String watts = job.map(j -> words.number(j.ratedGraphicsWatts(), "W")).orElse(words.text("open.not-stated"));
        return joined(watts, optional(j -> j.power().ratingOrigin()));
    }

    String adapter() {
        if (job.isEmpty()) {
            return words.text("open.not-stated");
        }
        Power.Adapter adapter = job.get().power().adapter();
        return joined(
                words.number(adapter.watts(), "W"),
                adapter.label(),
                adapter.recognised()
                        .map(r -> words.text(r ? "adapter.recognised" : "adapter.not-recognised"))
                        .orElse(""),
                whose(adapter.whose()));
    }

    String battery() {
        if (job.isEmpty()) {
            return words.text("open.not-stated");
        }
        Power.Battery battery = job.get().power().battery();
        return joined(words.stated(battery.label()), battery.condition(), whose(battery.whose()));
    }

    private String whose(Optional<Power.Owner> owner) {
        return owner.map(o -> words.text("owner." + o.word())).orElse(words.text("owner.not-stated"));
    }

    String closedSinceTest() {
        return job.flatMap(j -> j.closing().closedSinceTest())
                .map(closed -> words.text(closed ? "closed.yes" : "closed.no"))
                .orElse(words.text("open.not-stated"));
    }

    private static String joined(String... parts) {
        return Stream.of(parts).filter(p -> !p.isBlank()).collect(Collectors.joining(", "));
    }

    /** What the technician wrote, else what the machine says of itself. */
    String machine(Function<JobSheet.Machine, String> field, String fact) {
        String written = job.map(JobSheet::machine).map(field).orElse("");
        if (!written.isBlank()) {
            return written;
        }
        String found = header.withheld().contains("machine") ? "" : header.fact("machine", fact);
        return found.isBlank() ? words.text("open.not-stated") : words.text("open.by-machine", found);
    }

    String serial() {
        return header.withheld().contains("serial")
                ? words.text("open.withheld")
                : machine(JobSheet.Machine::serial, "serial");
    }

    String machineAndSerial() {
        String make = job.map(j -> j.machine().make()).orElse("");
        String model = job.map(j -> j.machine().model()).orElse("");
        String name = (make + " " + model).isBlank()
                ? Stream.of(machine(JobSheet.Machine::make, "make"), machine(JobSheet.Machine::model, "model"))
                        .distinct()
                        .collect(Collectors.joining(" "))
                : (make + " " + model).strip();
        // The serial number first where the name is endless: it is what identifies the item.
        String shown = name.length() > 80 ? name.substring(0, name.offsetByCodePoints(0, 78)) + "…" : name;
        return shown + ", " + words.text("front.serial", serial()) + " [t]"
                + (isNamed() ? "" : ". " + words.text("front.unnamed"));
    }

    /** Whether a serial number says which machine it was. */
    boolean isNamed() {
        return !job.map(j -> j.machine().serial()).orElse("").isBlank()
                || !(header.withheld().contains("serial")
                        || header.withheld().contains("machine")
                        || header.fact("machine", "serial").isBlank());
    }

    String customerAndTicket() {
        String ticket = words.stated(header.ticket());
        String shown = ticket.length() > 40 ? ticket.substring(0, 38) + "…" : ticket;
        return words.text("frame.ticket", shown) + "  ·  " + text(JobSheet::customer) + " [c]";
    }

    String workDone() {
        return job.map(JobSheet::workDone)
                .filter(w -> !w.isEmpty())
                .map(w -> String.join("; ", w) + " [t]")
                .orElse(words.text("open.not-stated"));
    }

    String ambient() {
        if (header.ambientCelsius().isPresent()) {
            return joined(words.number(header.ambientCelsius(), "°C"), header.ambientHow());
        }
        return job.map(JobSheet::bench)
                .filter(b -> b.ambientCelsius().isPresent())
                .map(b -> joined(words.number(b.ambientCelsius(), "°C"), b.ambientHow(), "[t]"))
                .orElse(words.text("open.not-taken"));
    }

    String procedure() {
        String title = verdict.procedure().title();
        String name = verdict.procedure().name();
        return title.isBlank() || name.isBlank() ? words.stated(title + name) : title + " (" + name + ")";
    }

    String test() {
        String begun = words.minute(header.utc());
        return header.ambientCelsius().isPresent()
                ? words.text("front.test.ambient", procedure(), begun, words.number(header.ambientCelsius(), "°C"))
                : words.text("front.test.value", procedure(), begun);
    }

    /** Watts held beside watts rated. */
    String watts() {
        Optional<Integer> longest = longestProof();
        boolean rated = job.isPresent() && job.get().ratedGraphicsWatts().isPresent();
        String rating = rated ? words.number(job.get().ratedGraphicsWatts(), "W") : "";
        if (longest.isEmpty() || !Double.isFinite(course.heldWatts().get(longest.get()))) {
            return rated ? words.text("front.power.rated", rating) : words.text("open.not-measured");
        }
        String held = words.number(Math.rint(course.heldWatts().get(longest.get())), "W");
        String stage = course.stages().get(longest.get()).stage();
        return rated
                ? words.text("front.power.both", held, stage, rating)
                : words.text("front.power.held", held, stage);
    }

    /** One of the few numbers that the customer came for. */
    record Key(String label, String value, String against) {}

    /** How long, how much and how hot, each beside what was asked: of the part that was loaded longest. */
    List<Key> keys() {
        List<Key> keys = new ArrayList<>();
        if (damaged()) {
            return keys; // In large print they would be believed.
        }
        Optional<Integer> longest = longestProof();
        String part = longest.flatMap(i -> stage(course.stages().get(i)))
                .flatMap(Stage::proves)
                .map(Role::word)
                .orElse("");
        Optional<Finding> soak = finding(Criterion.SOAK_DURATION, part);
        String subject = soak.map(Finding::subject).filter(s -> !s.isEmpty()).orElse(part);
        String name = Word.find(Role.class, subject).map(words::role).orElse(subject);
        soak.ifPresent(f ->
                keys.add(new Key(words.text("front.key.load", name), measured(f), against("front.key.load.asked", f))));
        if (longest.isPresent() && Double.isFinite(course.heldWatts().get(longest.get()))) {
            boolean rated = job.isPresent() && job.get().ratedGraphicsWatts().isPresent();
            keys.add(new Key(
                    words.text("front.key.power", name),
                    words.number(Math.rint(course.heldWatts().get(longest.get())), "W"),
                    rated
                            ? words.text(
                                    "front.key.power.rated",
                                    words.number(job.get().ratedGraphicsWatts(), "W"))
                            : words.text("front.key.power.unrated")));
        }
        finding(Criterion.TEMPERATURE_CEILING, subject)
                .ifPresent(f -> keys.add(
                        new Key(words.text("front.key.heat", name), measured(f), against("front.key.heat.limit", f))));
        return keys;
    }

    /** Whether the log cannot be relied on, and nothing that was read from it. */
    boolean damaged() {
        return verdict.findings().stream().anyMatch(Finding::doubted);
    }

    private String measured(Finding finding) {
        return finding.measured().isBlank() ? words.text("open.not-measured") : words.figures(finding.measured());
    }

    private String against(String key, Finding finding) {
        return finding.limit().isBlank() ? "" : words.text(key, words.figures(finding.limit()));
    }

    /** Of this part if it has one. */
    private Optional<Finding> finding(Criterion criterion, String part) {
        List<Finding> about = verdict.findings().stream()
                .filter(f -> f.criterion() == criterion)
                .toList();
        return about.stream()
                .filter(f -> f.subject().equals(part))
                .findFirst()
                .or(() -> part.isEmpty() ? about.stream().findFirst() : Optional.empty());
    }

    private Optional<Stage> stage(StageSpan span) {
        return verdict.procedure().stages().stream()
                .filter(s -> s.id().equals(span.stage()))
                .findFirst();
    }

    /** The stage that proves a GPU for the longest time, as it ran; else the longest that proves anything. */
    private Optional<Integer> longestProof() {
        int best = -1;
        double most = -1;
        for (int i = 0; i < course.stages().size(); i++) {
            StageSpan span = course.stages().get(i);
            Optional<Stage> stage = stage(span);
            if (stage.isEmpty()
                    || stage.get().proves().isEmpty()
                    || stage.get().gpu().isEmpty()) {
                continue;
            }
            double seconds = span.endSeconds() - span.startSeconds();
            if (seconds > most) {
                most = seconds;
                best = i;
            }
        }
        return best < 0 ? Optional.empty() : Optional.of(best);
    }

    int attemptNumber() {
        List<Verdict.Attempt> attempts = verdict.attempts();
        return attempts.isEmpty() ? 0 : attempts.get(attempts.size() - 1).number();
    }

    /** Up to where it goes into stage and temperature: the list of attempts has it whole. */
    private String brief(Verdict.Attempt attempt) {
        return words.stated(words.figures(attempt.summary().split(", ", 2)[0]));
    }

    /** {@code Attempt 2 of 2 on this ticket: …}, then how the others came out. */
    String attempt() {
        List<Verdict.Attempt> attempts = verdict.attempts();
        if (attempts.isEmpty()) {
            return words.text("front.attempts.unknown");
        }
        Verdict.Attempt last = attempts.get(attempts.size() - 1);
        String number = Integer.toString(last.number());
        String said = words.text("front.attempt", number, number, brief(last));
        String earlier = attempts.subList(0, attempts.size() - 1).stream()
                .map(a -> words.text("front.attempts.one", Integer.toString(a.number()), brief(a)))
                .collect(Collectors.joining("; "));
        return earlier.isEmpty() ? said : said + ". " + words.text("front.attempts.earlier", earlier);
    }
}

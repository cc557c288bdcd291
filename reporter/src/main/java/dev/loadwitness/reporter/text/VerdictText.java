// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import java.util.List;
import java.util.Locale;
import java.util.stream.Collectors;
import java.util.stream.Stream;

/** The verdict on a terminal: the one sentence first, the outcome in words, then everything it rests on. */
public final class VerdictText {
    public static final int DEFAULT_WIDTH = 80;

    private final TextPage out;

    private VerdictText(TextPage out) {
        this.out = out;
    }

    /**
     * The whole verdict, lines ended by line feeds.
     *
     * @param width columns of the terminal; below 80 the table becomes a list, below 30 it is laid out for 30
     * @param colour whether to colour the outcomes' words; they say the same without
     */
    public static String render(Verdict verdict, int width, boolean colour) {
        VerdictText text = new VerdictText(new TextPage(width, colour));
        text.write(verdict);
        return text.out.toString();
    }

    /**
     * The verdict on one screen: what happened, then by how much, then how sure that is. What does not fit is counted, not hidden.
     */
    public static String screen(Verdict verdict, int width, boolean colour) {
        VerdictText text = new VerdictText(new TextPage(width, colour));
        text.writeScreen(verdict);
        return text.out.toString();
    }

    private void writeScreen(Verdict verdict) {
        out.lines("", verdict.sentence());
        out.line("");
        outcome(verdict, false);
        FirstScreen.write(
                out, verdict, about(verdict, ""), "Every criterion with limit, evidence and uncertainty: judge --all");
    }

    private void write(Verdict verdict) {
        out.lines("", verdict.sentence());
        out.line("");
        outcome(verdict, true);
        out.line("");
        out.lines("", about(verdict, "run " + verdict.header().runId()));
        FindingList findings = new FindingList(out);
        findings.write(verdict.findings());
        findings.tables(verdict.findings());
        list("Attempts on this ticket", verdict.attempts().stream().map(VerdictText::attempt));
        list("Demonstrated", verdict.demonstrated().stream());
        list("Notes", verdict.notes().stream());
        out.title("Log");
        for (String digest : verdict.logSha256()) {
            out.lines("  ", "SHA-256 " + digest);
        }
        out.lines("  ", "last chain value " + verdict.lastChain());
        out.lines("  ", "judged by method " + verdict.methodVersion());
    }

    private void outcome(Verdict verdict, boolean named) {
        boolean decided = verdict.outcome() == Outcome.PASS || verdict.outcome() == Outcome.FAIL;
        Outcome shown = decided ? verdict.outcome() : Outcome.INCONCLUSIVE;
        String word = TextPage.loud(shown);
        String open = verdict.findings().stream()
                .filter(f -> f.mandatory() && f.outcome() != Outcome.PASS && f.outcome() != Outcome.NOT_APPLICABLE)
                .map(f ->
                        f.criterion().word() + " " + TextPage.loud(f.outcome()).toLowerCase(Locale.ROOT))
                .distinct()
                .collect(Collectors.joining(", "));
        String said =
                switch (shown) {
                    case PASS -> "the run passed";
                    case FAIL -> "the run failed";
                    default -> "the run neither passed nor failed";
                };
        List<String> lines =
                Wrap.lines(word + ": " + said + (open.isEmpty() || !named ? "." : " (" + open + ")."), out.width());
        out.line(out.painted(word, shown) + lines.get(0).substring(word.length()));
        lines.subList(1, lines.size()).forEach(out::line);
        if (verdict.header().simulated()) {
            out.lines("", "SIMULATED: no machine was measured.");
        }
    }

    private static String about(Verdict verdict, String run) {
        String machine = verdict.jobSheet()
                .map(JobSheet::machine)
                .map(m ->
                        Stream.of(m.make(), m.model()).filter(s -> !s.isBlank()).collect(Collectors.joining(" ")))
                .orElse("");
        return Stream.of(
                        machine,
                        verdict.header().ticket().isBlank()
                                ? ""
                                : "ticket " + verdict.header().ticket(),
                        run,
                        "procedure " + verdict.procedure().name()
                                + (verdict.ownProcedure() ? "" : " (not the one that the run began with)"))
                .filter(s -> !s.isBlank())
                .collect(Collectors.joining(" · "));
    }

    private static String attempt(Verdict.Attempt attempt) {
        return attempt.number() + ": run " + attempt.runId() + ": " + attempt.summary()
                + (attempt.shown() ? "" : " (its log was not read here)");
    }

    private void list(String title, Stream<String> texts) {
        List<String> all = texts.toList();
        if (!all.isEmpty()) {
            out.title(title);
            all.forEach(text -> out.hanging("  ", text));
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.runlog.file.line.Place;
import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.Set;
import java.util.stream.Collectors;

/**
 * One self-contained HTML file: the verdict, the criteria with their evidence, and every reading of one run or two. It
 * asks nothing of a network, and its content security policy allows nothing but the script and style inside it.
 */
public final class ReviewPage {
    /** More runs over each other cannot be read. */
    public static final int MOST_RUNS = 2;

    private ReviewPage() {}

    /** A run and the log that it was judged from. */
    public record Subject(Judgement judgement, Path log) {}

    /**
     * The page for the first run, with the second, if there is one, drawn over it.
     *
     * @param program name and version of this program
     * @throws IOException if a log cannot be read again, or holds more than a page can show
     */
    public static byte[] write(List<Subject> runs, String program) throws IOException {
        if (runs.isEmpty() || runs.size() > MOST_RUNS) {
            throw new IllegalArgumentException("one run or two, not " + runs.size());
        }
        List<ReviewedRun> all = new ArrayList<>();
        for (Subject subject : runs) {
            Set<Place> lines = subject.judgement().verdict().findings().stream()
                    .flatMap(f -> f.evidence().stream())
                    .flatMap(e -> e.line().stream())
                    .collect(Collectors.toSet());
            all.add(new ReviewedRun(
                    subject.judgement(),
                    Readings.of(subject.log(), subject.judgement().scan().stages(), lines),
                    MomentList.of(subject.judgement().scan()),
                    all.size(),
                    runs.size() == 1));
        }
        return new Review(all, program, PageData.json(all)).write().getBytes(StandardCharsets.UTF_8);
    }
}

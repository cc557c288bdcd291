// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria;

import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import java.util.List;

/** Writes a built log and judges it as the command would. */
public final class Judged {
    private Judged() {}

    public static Judgement of(Path folder, LogBuilder log) throws IOException {
        return Judge.judge(Judge.Request.of(log.write(folder)));
    }

    public static List<Finding> findings(Path folder, LogBuilder log, Criterion criterion) throws IOException {
        return of(folder, log).verdict().findings().stream()
                .filter(f -> f.criterion() == criterion)
                .toList();
    }

    /** The one finding of a criterion. */
    public static Finding finding(Path folder, LogBuilder log, Criterion criterion) throws IOException {
        List<Finding> found = findings(folder, log, criterion);
        if (found.size() != 1) {
            throw new AssertionError("not one finding but " + found);
        }
        return found.get(0);
    }
}

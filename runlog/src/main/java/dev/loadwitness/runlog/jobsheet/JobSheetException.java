// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.jobsheet;

import dev.loadwitness.runlog.yaml.Problem;
import java.util.List;

/** A job sheet that cannot be used. The message lists every fault on a line of its own, ready to be printed. */
public final class JobSheetException extends Exception {
    private static final long serialVersionUID = 1;

    private final transient List<Problem> problems;

    JobSheetException(String fileName, List<Problem> problems) {
        super(Problem.listed(fileName, problems));
        this.problems = List.copyOf(problems);
    }

    /** In the order of the file; never empty. */
    public List<Problem> problems() {
        return problems;
    }
}

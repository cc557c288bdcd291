// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import dev.loadwitness.runlog.yaml.Problem;
import java.util.List;

/** A procedure that cannot be used. The message lists every fault on a line of its own, ready to be printed. */
public final class ProcedureException extends Exception {
    private static final long serialVersionUID = 1;

    private final transient List<Problem> problems;

    ProcedureException(String fileName, List<Problem> problems) {
        super(Problem.listed(fileName, problems));
        this.problems = List.copyOf(problems);
    }

    /** In the order of the file; never empty. */
    public List<Problem> problems() {
        return problems;
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import java.io.PrintWriter;
import java.nio.file.Path;

/** A run that is fit to be compared: its log is whole. */
record WholeRun(Case run, Judgement judgement) {
    static WholeRun read(Path log, PrintWriter err) throws Complaint {
        Judgement judgement = Inputs.judgeAlone(log);
        Inputs.nameStrangers(judgement, err);
        if (judgement.damaged()) {
            throw new Complaint(
                    Sysexits.DATA,
                    log + " is damaged or was altered, so that its figures are not relied on; see judge");
        }
        return new WholeRun(
                new Case(
                        judgement.scan(),
                        judgement.verdict().procedure(),
                        judgement.verdict().jobSheet()),
                judgement);
    }
}

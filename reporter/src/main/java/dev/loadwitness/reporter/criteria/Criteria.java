// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.reporter.criteria.breakdown.Devices;
import dev.loadwitness.reporter.criteria.breakdown.HardwareErrors;
import dev.loadwitness.reporter.criteria.breakdown.Interruption;
import dev.loadwitness.reporter.criteria.breakdown.Interruptions;
import dev.loadwitness.reporter.criteria.breakdown.Isolation;
import dev.loadwitness.reporter.criteria.evidence.HandChecks;
import dev.loadwitness.reporter.criteria.evidence.Sensors;
import dev.loadwitness.reporter.criteria.evidence.WholeEvidence;
import dev.loadwitness.reporter.criteria.heat.Fans;
import dev.loadwitness.reporter.criteria.heat.TemperatureCeiling;
import dev.loadwitness.reporter.criteria.heat.TemperatureSettled;
import dev.loadwitness.reporter.criteria.heat.ThermalResistance;
import dev.loadwitness.reporter.criteria.heat.WarmRoom;
import dev.loadwitness.reporter.criteria.power.Charging;
import dev.loadwitness.reporter.criteria.power.EnergyAgrees;
import dev.loadwitness.reporter.criteria.power.LimitWithdrawn;
import dev.loadwitness.reporter.criteria.power.PowerHeld;
import dev.loadwitness.reporter.criteria.power.PowerPlausible;
import dev.loadwitness.reporter.criteria.power.PowerSteady;
import dev.loadwitness.reporter.criteria.power.Rails;
import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.criteria.work.ClockHeld;
import dev.loadwitness.reporter.criteria.work.ColdStarts;
import dev.loadwitness.reporter.criteria.work.LoadSteps;
import dev.loadwitness.reporter.criteria.work.Ramp;
import dev.loadwitness.reporter.criteria.work.RepeatSoak;
import dev.loadwitness.reporter.criteria.work.SoakDuration;
import dev.loadwitness.reporter.criteria.work.Throttle;
import dev.loadwitness.reporter.criteria.work.WorkErrors;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import dev.loadwitness.runlog.procedure.Parameters;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.function.Function;
import java.util.stream.Collectors;
import java.util.stream.Stream;

/** All criteria there are. A new one is added here, and to {@link Criterion}. */
public final class Criteria {
    private static final Map<Criterion, Rule> RULES = Stream.of(
                    new SoakDuration(),
                    new LimitWithdrawn(),
                    new Interruptions(),
                    new Isolation(),
                    new ColdStarts(),
                    new TemperatureCeiling(),
                    new RepeatSoak(),
                    new WarmRoom(),
                    new ThermalResistance(),
                    new TemperatureSettled(),
                    new Throttle(),
                    new ClockHeld(),
                    new PowerHeld(),
                    new PowerSteady(),
                    new PowerPlausible(),
                    new EnergyAgrees(),
                    new Ramp(),
                    new LoadSteps(),
                    new WorkErrors(Criterion.COMPUTE_ERRORS, Parameters.ComputeErrors.AT_MOST),
                    new WorkErrors(Criterion.MEMORY_ERRORS, Parameters.MemoryErrors.AT_MOST),
                    new HardwareErrors(),
                    new Charging(),
                    new Fans(),
                    new Devices(),
                    new Rails(),
                    new HandChecks(),
                    new WholeEvidence())
            .collect(Collectors.toUnmodifiableMap(Rule::criterion, Function.identity()));

    private Criteria() {}

    /** Findings in the order in which the procedure lists its criteria. */
    public static List<Finding> judge(Case run) {
        return run.judgedBy().criteria().stream()
                .flatMap(setting -> judge(setting, run).stream())
                .toList();
    }

    /** Findings of one criterion; the job sheet may say that it does not apply. */
    public static List<Finding> judge(CriterionSetting setting, Case run) {
        Optional<String> reason =
                run.jobSheet().map(JobSheet::notApplicable).map(reasons -> reasons.get(setting.criterion()));
        if (reason.isPresent()) {
            return List.of(Finding.of(
                    setting, "", Outcome.NOT_APPLICABLE, "Not applicable, by the job sheet: " + reason.get()));
        }
        return requireNonNull(RULES.get(setting.criterion()), "every criterion has a rule").judge(setting, run).stream()
                .map(finding -> Sensors.judged(finding, run))
                .toList();
    }

    /** How often the machine itself ended the run or a stage: each restart counts, a restart loop as one more. */
    public static int endsByTheMachine(Case run) {
        return (int) Interruptions.found(run).stream()
                .filter(Interruption::byMachine)
                .count();
    }

    static Map<Criterion, Rule> rules() {
        return RULES;
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.reporter.plan.Basis;
import dev.loadwitness.reporter.plan.PlannedProcedure;
import dev.loadwitness.reporter.plan.SoakPlan;
import dev.loadwitness.reporter.plan.Span;
import dev.loadwitness.reporter.text.PlanJson;
import dev.loadwitness.reporter.text.PlanText;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.ProcedureException;
import java.io.PrintWriter;
import java.math.BigDecimal;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.OptionalDouble;
import java.util.concurrent.Callable;
import java.util.regex.Pattern;
import picocli.CommandLine.ArgGroup;
import picocli.CommandLine.Command;
import picocli.CommandLine.Model.CommandSpec;
import picocli.CommandLine.Option;
import picocli.CommandLine.ParameterException;
import picocli.CommandLine.Spec;

@Command(
        name = "plan",
        description = "Says how long to run: how long a soak must be before a clean one means something.",
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        exitCodeListHeading = "%nExit status:%n",
        exitCodeList = {
            " 0:the plan was printed, and written where that was asked for",
            "64:wrong usage",
            "65:the procedure or the job sheet has mistakes in it, or no soak that could be lengthened",
            "66:an input file cannot be read",
            "70:a defect of this program, or not enough memory for Java: nothing was decided",
            "73:--write cannot make its file, or there is one already"
        },
        footer = {
            "",
            "Examples:",
            "  loadwitness-reporter plan --fault-every 8min --confidence 95",
            "  loadwitness-reporter plan --observed 7min,9min,31min",
            "  loadwitness-reporter plan --mtbf 20h --allow-failures 1",
            "  loadwitness-reporter plan --job job-sheet.yaml --from thresholds/gpu-power-repair.yaml --write soak.yaml"
        })
final class PlanCommand implements Callable<Integer> {
    private static final Pattern PERCENT = Pattern.compile("([0-9]{1,2}(?:\\.[0-9]{1,3})?) *%?");
    private static final double LEAST_CONFIDENCE = 0.5;
    private static final double MOST_CONFIDENCE = 0.999;
    private static final int MOST_FAILURES = 100;
    private static final int WIDTH = 100;
    private static final int SECONDS_A_MINUTE = 60;

    @Spec
    private CommandSpec spec;

    @ArgGroup(multiplicity = "1")
    private Known known;

    /** What is known of the fault; exactly one. */
    static final class Known {
        @Option(
                names = "--fault-every",
                paramLabel = "TIME",
                description = "mean time between the faults, where it is well known: " + Span.EXAMPLES)
        private String faultEvery;

        @Option(
                names = "--observed",
                paramLabel = "TIME,...",
                split = ",",
                hideParamSyntax = true,
                description =
                        "how long it ran before each fault that somebody saw; fewer of them ask for a longer soak")
        private List<String> observed;

        @Option(names = "--mtbf", paramLabel = "TIME", description = "mean time between failures that shall be shown")
        private String mtbf;

        @Option(
                names = "--job",
                paramLabel = "FILE",
                description = "take the observed times from this job sheet (time-between-faults)")
        private Path job;
    }

    @Option(
            names = "--confidence",
            paramLabel = "PERCENT",
            defaultValue = "95",
            description = "50 to 99.9 (default: 95)")
    private String confidence;

    @Option(
            names = "--allow-failures",
            paramLabel = "N",
            description = "with --mtbf: failures that may happen meanwhile (default: none)")
    private Integer allowFailures;

    @Option(
            names = "--from",
            paramLabel = "PROCEDURE",
            description = "the procedure to run; says how long the whole run takes then")
    private Path from;

    @Option(
            names = "--write",
            paramLabel = "FILE",
            description = "write a copy of --from with the planned soak in it; replaces no file, shortens nothing")
    private Path write;

    @Option(names = "--json", description = "print the plan as JSON, times in seconds")
    private boolean json;

    @Override
    public Integer call() throws Complaint {
        if (write != null && from == null) {
            throw usage("--write needs --from: the procedure that the planned soak is put into");
        }
        if (allowFailures != null && known.mtbf == null) {
            throw usage("--allow-failures goes with --mtbf: a fault that was repaired may not come back even once");
        }
        SoakPlan plan = new SoakPlan(basis(), share());
        List<String> said = new ArrayList<>();
        List<String> changes = List.of();
        OptionalDouble total = OptionalDouble.empty();
        if (from != null) {
            PlannedProcedure planned = planned(plan);
            changes = planned.changes();
            total = OptionalDouble.of(planned.procedure().duration().toMillis() / 1e3);
            tell(planned, total.getAsDouble(), said);
            if (write != null) {
                Output.to(write, "--write").write(planned.text());
                said.add("Written: " + write + ".");
            }
        }
        PrintWriter out = spec.commandLine().getOut();
        out.print(json ? PlanJson.write(plan, total, changes) : PlanText.render(plan, said, WIDTH));
        out.flush();
        return Exit.PASS;
    }

    private Basis basis() throws Complaint {
        if (known.faultEvery != null) {
            return new Basis.Known(seconds("--fault-every", known.faultEvery));
        }
        if (known.mtbf != null) {
            int allowed = allowFailures == null ? 0 : allowFailures;
            if (allowed < 0 || allowed > MOST_FAILURES) {
                throw usage("--allow-failures is " + allowed + "; give 0 to " + MOST_FAILURES);
            }
            return new Basis.Objective(seconds("--mtbf", known.mtbf), allowed);
        }
        List<Double> intervals = new ArrayList<>();
        if (known.job != null) {
            Inputs.jobSheet(known.job).minutesBetweenFaults().forEach(m -> intervals.add(m * SECONDS_A_MINUTE));
            if (intervals.isEmpty()) {
                throw new Complaint(
                        Sysexits.DATA,
                        known.job + " has no time-between-faults; write there how long it ran before each fault, for"
                                + " example time-between-faults: [12 min, 25 min]");
            }
        } else {
            for (String text : known.observed) {
                intervals.add(seconds("--observed", text));
            }
        }
        return new Basis.Observed(intervals);
    }

    private double seconds(String option, String text) {
        return Span.parse(text)
                .orElseThrow(() ->
                        usage(option + " is '" + text + "', which is no time; write for example " + Span.EXAMPLES));
    }

    private double share() {
        var found = PERCENT.matcher(confidence.strip());
        double share = found.matches()
                ? new BigDecimal(found.group(1)).movePointLeft(2).doubleValue()
                : Double.NaN;
        if (!(share >= LEAST_CONFIDENCE && share <= MOST_CONFIDENCE)) {
            throw usage("--confidence is '" + confidence + "'; write a percentage from 50 to 99.9, for example 95");
        }
        return share;
    }

    private PlannedProcedure planned(SoakPlan plan) throws Complaint {
        if (plan.longerThanAnyProcedure()) {
            throw usage(plan.warnings().get(0));
        }
        try {
            String text = Inputs.text(from);
            return PlannedProcedure.of(from.getFileName().toString(), text, plan.soakSeconds(), reason(plan));
        } catch (ProcedureException | PlannedProcedure.Refused e) {
            throw Complaint.of(Sysexits.DATA, e);
        }
    }

    private static String reason(SoakPlan plan) {
        String sure = SoakPlan.percent(plan.confidence());
        if (plan.basis() instanceof Basis.Known k) {
            return sure + " for a fault every " + Span.write(k.meanSeconds());
        }
        if (plan.basis() instanceof Basis.Objective o) {
            return sure + " for " + Span.write(o.meanSeconds()) + " between failures, "
                    + (o.allowedFailures() == 0 ? "none" : Integer.toString(o.allowedFailures())) + " allowed";
        }
        int n = ((Basis.Observed) plan.basis()).seconds().size();
        return sure + " from " + n + (n == 1 ? " observed interval" : " observed intervals");
    }

    private static void tell(PlannedProcedure planned, double totalSeconds, List<String> said) {
        Procedure procedure = planned.procedure();
        if (planned.changes().isEmpty()) {
            said.add("That is no more than " + procedure.name() + " asks for already: it stays as it is.");
        } else {
            said.add(String.join("; ", planned.changes()) + ".");
        }
        said.add("The whole run takes " + Span.write(totalSeconds)
                + (procedure.railsWithAShare().isEmpty()
                        ? "."
                        : ", and more where the job sheet names a repaired rail."));
    }

    private ParameterException usage(String message) {
        return new ParameterException(spec.commandLine(), message);
    }
}

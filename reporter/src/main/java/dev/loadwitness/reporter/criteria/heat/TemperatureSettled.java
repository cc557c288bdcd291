// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.heat;

import static dev.loadwitness.runlog.procedure.Parameters.TemperatureSettled.RISE;
import static dev.loadwitness.runlog.procedure.Parameters.TemperatureSettled.WINDOW;
import static dev.loadwitness.runlog.procedure.Parameters.TemperatureSettled.WITHIN;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.finding.Amount;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.FindingText;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.finding.Value;
import dev.loadwitness.reporter.scan.heat.ThermalTally;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.reporter.scan.stage.ThrottleTally;
import dev.loadwitness.reporter.statistics.ConformityDecision;
import dev.loadwitness.reporter.statistics.Cusum;
import dev.loadwitness.reporter.statistics.MannKendall;
import dev.loadwitness.reporter.statistics.Quantiles;
import dev.loadwitness.reporter.statistics.Slope;
import dev.loadwitness.reporter.statistics.UncertaintyBudget;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.List;
import java.util.Optional;

/**
 * Whether the chip's temperature still rose at the end of the longest full load that proves a part. What decides is the upper
 * bound of the slope: that no trend was found shows nothing, since a short or restless series hides a steep one.
 *
 * <p>To the bound of the slope comes one least digit of the sensor over the window: a reading that sticks to whole kelvins may
 * hide as much. A part that is held at its target temperature is settled by its regulation; then what its power still does
 * is looked at, and the watts are the result.
 */
public final class TemperatureSettled implements Rule {
    private static final double CONFIDENCE = 0.95;

    /** Resolution assumed where the sensor states none (common practice, no source). */
    private static final double ASSUMED_RESOLUTION_KELVIN = 1;

    // What makes a part count as held at its target (common practice, no source).
    private static final double AT_TARGET_KELVIN = 1.5;
    private static final double REGULATED_SHARE = 0.5;
    /** Share of the watts that a part held at its target may still shed within the criterion's time (ours). */
    private static final double MOST_SHED = 0.02;

    /** A change of level that is smaller than this is not looked for (common practice, no source). */
    private static final double LEAST_CHANGE_KELVIN = 3;

    private static final double FALSE_ALARM = 0.01;
    private static final double LONGEST_ADVICE_SECONDS = 4 * 3600;
    private static final double ADVICE_STEP_SECONDS = 300;

    @Override
    public Criterion criterion() {
        return Criterion.TEMPERATURE_SETTLED;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        return Rule.ofEach(run.chips(), setting, TemperatureCeiling.NO_PART, part -> judge(setting, run, part));
    }

    private static Finding judge(CriterionSetting setting, Case run, Role part) {
        double rise = setting.kelvin(RISE);
        double within = setting.seconds(WITHIN);
        String inTime = " in " + Texts.duration(within);
        Limit limit = new Limit.End(Limit.Side.AT_MOST, Amount.kelvin(rise), "", inTime);
        String origin = setting.origin(RISE);
        Optional<StageTally> longest = run.scan()
                .stagesThatProve(part)
                .filter(StageTally::fullLoad)
                .max(Comparator.comparingDouble(StageTally::seconds));
        Optional<ThermalTally.Line> chip = longest.flatMap(s -> s.thermal().temperature(part));
        if (chip.isEmpty()) {
            return Finding.of(
                            setting,
                            part.word(),
                            Outcome.NOT_MEASURED,
                            "No temperature of " + Texts.part(part) + " under full load was read.")
                    .against(limit, origin);
        }
        StageTally stage = longest.get();
        BlockMeans.Window window = BlockMeans.lastWhole(stage, setting.seconds(WINDOW));
        BlockMeans blocks = BlockMeans.of(stage, chip.get(), window);
        if (blocks.count() < Slope.MINIMUM_COUNT) {
            return Finding.of(
                            setting,
                            part.word(),
                            Outcome.NOT_MEASURED,
                            "Stage " + stage.stage().id() + " is too short, or its temperature was read too seldom, to"
                                    + " tell whether it settled.")
                    .against(limit, origin);
        }
        Trend trend = Trend.of(blocks, chip.get(), window, within);
        boolean regulated = regulated(stage, chip.get(), blocks, window);
        Outcome outcome = trend.upper <= rise ? Outcome.PASS : trend.lower > rise ? Outcome.FAIL : Outcome.INCONCLUSIVE;
        String where = "over the last " + Texts.duration(window.seconds()) + " of stage "
                + stage.stage().id();
        String because = because(part, trend, outcome, where, within, rise, blocks, window);
        if (regulated && outcome == Outcome.PASS) {
            Regulated watts = Regulated.of(stage, part, window, within);
            outcome = watts.settled ? Outcome.PASS : Outcome.INCONCLUSIVE;
            because = Texts.sentenceCase(Texts.part(part)) + " was held at " + Texts.number(trend.slope.middle(), 0)
                    + " °C by its own regulation " + where + ": " + watts.text;
        }
        double u = (trend.upper - trend.change) / Quantiles.normal(CONFIDENCE);
        UncertaintyBudget budget = UncertaintyBudget.none().statistical("slope", u, Double.POSITIVE_INFINITY);
        double conformity = ConformityDecision.decide(ConformityDecision.Side.AT_MOST, trend.change, rise, budget, 0)
                .conformanceProbability();
        return Finding.of(setting, part.word(), outcome, because)
                .against(limit, origin)
                .measured(new Value.Single(Amount.kelvin(trend.change), Value.Sign.BOTH, "", inTime))
                .uncertain(Amount.kelvin(budget.expanded()), conformity)
                .seen(evidence(stage, blocks, window, trend, within));
    }

    private static String because(
            Role part,
            Trend trend,
            Outcome outcome,
            String where,
            double within,
            double rise,
            BlockMeans blocks,
            BlockMeans.Window window) {
        String moved = "The temperature of " + Texts.part(part) + " "
                + (trend.change < 0 ? "fell" : "rose") + " by "
                + Texts.number(Math.abs(trend.change), 1) + " K in " + Texts.duration(within) + " " + where;
        String bound = ", at most " + Texts.number(trend.upper, 1) + " K with 95 % confidence";
        return switch (outcome) {
            case PASS -> moved + bound + ": settled.";
            case FAIL ->
                moved + ", at least " + Texts.number(trend.lower, 1)
                        + " K with 95 % confidence: still rising. Look at vents, fans, dust and what the machine stands on.";
            default -> moved + bound + ": not shown to have settled; " + advice(trend, within, rise, blocks, window);
        };
    }

    /** What would settle it. */
    private static String advice(Trend trend, double within, double rise, BlockMeans blocks, BlockMeans.Window window) {
        double margin = trend.upper - trend.change;
        if (trend.change <= rise / 2 && margin >= rise) {
            return "its readings scatter too much for that time, and a longer window would tell.";
        }
        // Where the margin alone takes all of the limit, a quarter of it: some figure is better than none.
        double wanted = Math.max(rise - margin, rise / 4) / within;
        double seconds = blocks.secondsUntil(wanted, trend.slope, window.seconds());
        double rounded = Math.ceil(seconds / ADVICE_STEP_SECONDS) * ADVICE_STEP_SECONDS;
        return seconds > LONGEST_ADVICE_SECONDS
                ? "it would not settle within hours."
                : "run longer, by about " + Texts.duration(rounded) + ".";
    }

    private static boolean regulated(
            StageTally stage, ThermalTally.Line chip, BlockMeans blocks, BlockMeans.Window window) {
        double held = stage.throttles().stream()
                .filter(t -> t.cause() == Cause.HEAT)
                .mapToDouble(t -> heldWithin(t, stage, window))
                .max()
                .orElse(0);
        double target = chip.channel().limit(LimitType.MAX).orElse(Double.POSITIVE_INFINITY);
        return held >= REGULATED_SHARE * window.seconds() || blocks.mean() >= target - AT_TARGET_KELVIN;
    }

    private static double heldWithin(ThrottleTally throttle, StageTally stage, BlockMeans.Window window) {
        double from = stage.begin().seconds() + window.from();
        double to = from + window.seconds();
        return throttle.spells().stream()
                .filter(s -> s.from().segment() == stage.begin().segment())
                .mapToDouble(s -> Math.max(
                        0,
                        Math.min(to, s.from().seconds() + s.seconds())
                                - Math.max(from, s.from().seconds())))
                .sum();
    }

    private static List<Evidence> evidence(
            StageTally stage, BlockMeans blocks, BlockMeans.Window window, Trend trend, double within) {
        List<Evidence> evidence = new ArrayList<>();
        evidence.add(at(
                stage,
                window.from(),
                "window begins: " + blocks.count() + " means of " + Texts.duration(blocks.blockSeconds())
                        + (window.cycles() > 0 ? ", " + window.cycles() + " whole cycles of the fan" : "")));
        MannKendall test = MannKendall.of(blocks.times(), blocks.values());
        double[] interval = test.theilSenInterval(CONFIDENCE);
        evidence.add(Evidence.named(
                "beside it",
                "Theil-Sen slope " + kelvin(test.theilSen() * within) + " (" + kelvin(interval[0] * within) + " to "
                        + kelvin(interval[1] * within) + " with 95 %) in " + Texts.duration(within)
                        + "; Mann-Kendall z = " + Texts.number(test.z(), 1) + ", p = "
                        + Texts.number(test.twoSidedProbability(), 3)
                        + ": both take the means as independent, and decide nothing"));
        double[] left = blocks.residuals(trend.slope);
        Cusum.Change change =
                Cusum.forSeries(FALSE_ALARM, LEAST_CHANGE_KELVIN, left).first(LEAST_CHANGE_KELVIN, left);
        if (change != null) {
            evidence.add(at(
                    stage,
                    blocks.times()[change.first()],
                    "level changed, by about " + kelvin(change.level()) + " from the line"));
        }
        return evidence;
    }

    private static Evidence at(StageTally stage, double intoStage, String text) {
        return Evidence.named("stage " + stage.stage().id(), stage.begin().plus(intoStage), text);
    }

    private static String kelvin(double value) {
        return FindingText.signed(Amount.kelvin(value));
    }

    /** Change within the criterion's time, with its bounds. */
    private record Trend(Slope slope, double change, double lower, double upper) {
        static Trend of(BlockMeans blocks, ThermalTally.Line chip, BlockMeans.Window window, double within) {
            Slope slope = Slope.of(blocks.times(), blocks.values());
            double resolution = Double.isNaN(chip.channel().resolution())
                    ? ASSUMED_RESOLUTION_KELVIN
                    : chip.channel().resolution();
            double digit = resolution / window.seconds();
            return new Trend(
                    slope,
                    slope.slope() * within,
                    (slope.lower(CONFIDENCE) - digit) * within,
                    (slope.upper(CONFIDENCE) + digit) * within);
        }
    }

    /** What the power of a part did that was held at its target. */
    private record Regulated(boolean settled, String text) {
        static Regulated of(StageTally stage, Role part, BlockMeans.Window window, double within) {
            Optional<ThermalTally.Line> power = stage.thermal().power(part);
            BlockMeans watts =
                    power.map(line -> BlockMeans.of(stage, line, window)).orElse(null);
            if (watts == null || watts.count() < Slope.MINIMUM_COUNT) {
                return new Regulated(false, "whether it settled its power would tell, and that was not read.");
            }
            Slope slope = Slope.of(watts.times(), watts.values());
            double shed = -slope.lower(CONFIDENCE) * within;
            boolean settled = shed <= MOST_SHED * slope.middle();
            String sustained = Texts.number(slope.middle(), 0) + " W";
            return new Regulated(
                    settled,
                    settled
                            ? "settled by regulation. What it sustained is the result: " + sustained + "."
                            : "it sustained " + sustained + " and sheds up to " + Texts.number(shed, 1) + " W in "
                                    + Texts.duration(within) + " with 95 % confidence: not shown to have settled.");
        }
    }
}

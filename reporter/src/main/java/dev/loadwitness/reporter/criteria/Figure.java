// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria;

import static dev.loadwitness.runlog.procedure.Parameters.ThermalResistance.AMBIENT_UNCERTAINTY;
import static dev.loadwitness.runlog.procedure.Parameters.ThermalResistance.POWER_UNCERTAINTY;
import static dev.loadwitness.runlog.procedure.Parameters.ThermalResistance.UNCERTAINTY;

import dev.loadwitness.reporter.criteria.breakdown.Interruptions;
import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Held;
import dev.loadwitness.reporter.criteria.rule.Soaks;
import dev.loadwitness.reporter.criteria.rule.Warming;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.scan.Scan;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.reporter.scan.stage.WindowTrack.Window;
import dev.loadwitness.reporter.statistics.CorrelatedMean;
import dev.loadwitness.reporter.statistics.Estimate;
import dev.loadwitness.reporter.statistics.StepResponse;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.TreeMap;

/**
 * One number that a run shows, to be set beside the same of another run.
 *
 * @param estimate empty if it is not known
 * @param why one clause, where it is not known
 */
public record Figure(Quantity quantity, Optional<Estimate> estimate, String why) {
    /** Quantities, in the order of print. */
    public enum Quantity {
        PLATEAU("plateau", "Cel", true),
        THERMAL_RESISTANCE("thermal resistance", "K/W", true),
        POWER_HELD("power held", "W", true),
        CLOCK_HELD("clock held", "MHz", true),
        WORK_RATE("work rate", "1/s", true),
        HEAT_TIME("held back for heat", "s", false),
        BRAKE_TIME("held back by power brake", "s", false),
        HARDWARE_TIME("held back by hardware", "s", false),
        INTERRUPTIONS("interruptions", "", false);

        private final String text;
        private final String unit;
        private final boolean ofTheModel;

        Quantity(String text, String unit, boolean ofTheModel) {
            this.text = text;
            this.unit = unit;
            this.ofTheModel = ofTheModel;
        }

        public String text() {
            return text;
        }

        /** UCUM; empty for a count. */
        public String unit() {
            return unit;
        }

        /** Whether machines of one model have it in common, so that a band of it can be expected. */
        public boolean ofTheModel() {
            return ofTheModel;
        }
    }

    private static Figure known(Quantity quantity, double value, Map<String, Double> contributions) {
        return new Figure(quantity, Optional.of(new Estimate(value, contributions)), "");
    }

    private static Figure unknown(Quantity quantity, String why) {
        return new Figure(quantity, Optional.empty(), why);
    }

    /**
     * All quantities of one stage. Of a stage that ran in pieces, after a restart, the longest piece gives what is a mean and all
     * pieces give what is a sum.
     *
     * @param machine what tells this machine from others; only what the same machine measured with the same sensor shares errors
     */
    public static List<Figure> ofStage(Case run, String stageId, String machine) {
        List<StageTally> pieces = run.scan().stages().stream()
                .filter(s -> s.stage().id().equals(stageId))
                .toList();
        List<Figure> figures = new ArrayList<>();
        StageTally stage = pieces.stream()
                .max(Comparator.comparingDouble(StageTally::seconds))
                .orElseThrow();
        Optional<Role> part = stage.part();
        if (part.isEmpty()) {
            return List.of();
        }
        Names names = new Names(run.scan(), stageId, machine);
        thermal(run, stage, part.get(), names, figures);
        figures.add(power(run, stage, part.get(), names));
        figures.add(clock(stage, names));
        figures.add(rate(stage, names));
        double period = run.scan().procedure().samplingPeriod().toNanos() / 1e9;
        figures.add(held(Quantity.HEAT_TIME, Cause.HEAT, pieces, period, names));
        figures.add(held(Quantity.BRAKE_TIME, Cause.POWER_BRAKE, pieces, period, names));
        figures.add(held(Quantity.HARDWARE_TIME, Cause.HARDWARE_SLOWDOWN, pieces, period, names));
        return List.copyOf(figures);
    }

    /** How often the run as a whole was ended before its time; as of a Poisson count, u = √n. */
    public static Figure interruptions(Case run, String machine) {
        int n = Interruptions.found(run).size();
        return known(
                Quantity.INTERRUPTIONS,
                n,
                Map.of(new Names(run.scan(), "", machine).scatter(Quantity.INTERRUPTIONS), Math.sqrt(n)));
    }

    /** Names of sources of error. */
    private record Names(Scan scan, String stage, String machine) {
        String scatter(Quantity quantity) {
            return "scatter of " + quantity.text() + " in run " + scan.header().runId() + " stage " + stage;
        }

        String instrument(Channel channel) {
            return "calibration of " + channel.id() + " of machine " + machine;
        }

        String room() {
            return "room of run " + scan.header().runId();
        }
    }

    private static void thermal(Case run, StageTally stage, Role part, Names names, List<Figure> figures) {
        Warming w = run.warming(stage, part);
        if (!w.measured()) {
            figures.add(unknown(Quantity.PLATEAU, w.why()));
            figures.add(unknown(Quantity.THERMAL_RESISTANCE, w.why()));
            return;
        }
        CriterionSetting setting = setting(run);
        StepResponse response = w.response().orElseThrow();
        Channel sensor = stage.thermal().temperature(part).orElseThrow().channel();
        Channel meter = stage.thermal().power(part).orElseThrow().channel();
        double ofPlateau = response.halfWidth() / 2;
        double ofSensor =
                Double.isNaN(sensor.standardUncertainty()) ? setting.kelvin(UNCERTAINTY) : sensor.standardUncertainty();
        figures.add(known(
                Quantity.PLATEAU,
                response.plateau(),
                Map.of(names.scatter(Quantity.PLATEAU), ofPlateau, names.instrument(sensor), ofSensor)));
        OptionalDouble ambient = run.scan().header().ambientCelsius();
        if (ambient.isEmpty()) {
            figures.add(unknown(Quantity.THERMAL_RESISTANCE, "the ambient temperature was not taken"));
            return;
        }
        double watts = w.watts();
        double resistance = (response.plateau() - ambient.getAsDouble()) / watts;
        double scatterWatts = Double.isNaN(w.wattsError()) ? 0 : w.wattsError();
        Map<String, Double> contributions = new TreeMap<>();
        contributions.put(names.scatter(Quantity.PLATEAU), ofPlateau / watts);
        contributions.put(names.scatter(Quantity.POWER_HELD), -resistance * scatterWatts / watts);
        contributions.put(names.instrument(sensor), ofSensor / watts);
        contributions.put(names.room(), -setting.kelvin(AMBIENT_UNCERTAINTY) / watts);
        contributions.put(names.instrument(meter), -resistance * ofMeter(setting, meter, watts) / watts);
        figures.add(known(Quantity.THERMAL_RESISTANCE, resistance, contributions));
    }

    private static CriterionSetting setting(Case run) {
        return run.judgedBy()
                .setting(Criterion.THERMAL_RESISTANCE)
                .orElse(new CriterionSetting(Criterion.THERMAL_RESISTANCE, false, Map.of()));
    }

    private static double ofMeter(CriterionSetting setting, Channel meter, double watts) {
        boolean stated = !Double.isNaN(meter.standardUncertainty()) && meter.measures(Metric.POWER);
        return stated ? meter.standardUncertainty() : setting.share(POWER_UNCERTAINTY) * watts;
    }

    private static Figure power(Case run, StageTally stage, Role part, Names names) {
        List<Window> windows = Soaks.settledPower(stage);
        Optional<Channel> meter = run.scan().channels().stream()
                .filter(c -> c.is(part, Metric.ENERGY))
                .findFirst()
                .or(() -> run.scan().channels().stream()
                        .filter(c -> c.is(part, Metric.POWER))
                        .findFirst());
        if (meter.isEmpty() || windows.size() < CorrelatedMean.MINIMUM_COUNT) {
            return unknown(
                    Quantity.POWER_HELD,
                    meter.isEmpty() ? "the power of " + Texts.part(part) + " was not read" : "the stage is too short");
        }
        double median = Soaks.medianWatts(windows);
        CorrelatedMean scatter = CorrelatedMean.of(
                windows.stream().mapToDouble(Window::meanWatts).toArray());
        return known(
                Quantity.POWER_HELD,
                median,
                Map.of(
                        names.scatter(Quantity.POWER_HELD),
                        scatter.standardError() * Math.sqrt(Math.PI / 2),
                        names.instrument(meter.get()),
                        ofMeter(setting(run), meter.get(), median)));
    }

    private static Figure clock(StageTally stage, Names names) {
        double hertz = stage.clock().map(c -> c.heldHertz()).orElse(Double.NaN);
        // The clocks next to it may be the true one: their distance, spread evenly to either side.
        return Double.isNaN(hertz)
                ? unknown(Quantity.CLOCK_HELD, "the clock was not read under full load")
                : known(
                        Quantity.CLOCK_HELD,
                        hertz / 1e6,
                        Map.of(
                                names.scatter(Quantity.CLOCK_HELD),
                                stage.clock().orElseThrow().stepHertz() / 1e6 / Math.sqrt(3)));
    }

    private static Figure rate(StageTally stage, Names names) {
        double[] rates = stage.track().stream()
                .filter(w -> w.startSeconds() >= stage.begin().seconds() + Soaks.SETTLE_SECONDS)
                .mapToDouble(Window::rate)
                .toArray();
        CorrelatedMean mean = CorrelatedMean.of(rates);
        return stage.verifiedWork() > 0 && rates.length >= CorrelatedMean.MINIMUM_COUNT
                ? known(
                        Quantity.WORK_RATE,
                        mean.mean(),
                        Map.of(names.scatter(Quantity.WORK_RATE), mean.standardError()))
                : unknown(Quantity.WORK_RATE, "no verified work was done, or the stage is too short");
    }

    /** A sampled flag misplaces each end of an episode by up to one period, evenly: u² = 2·n·period²/12. */
    private static Figure held(Quantity quantity, Cause cause, List<StageTally> pieces, double period, Names names) {
        Held held = Held.of(cause, pieces);
        if (!held.measured()) {
            return unknown(quantity, "nothing on the machine tells of it");
        }
        double u = held.counted() ? 0 : period * Math.sqrt(held.episodes() / 6.0);
        return known(quantity, held.seconds(), Map.of(names.scatter(quantity), u));
    }
}

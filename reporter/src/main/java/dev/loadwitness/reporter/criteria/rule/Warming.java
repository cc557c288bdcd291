// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.rule;

import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.scan.Scan;
import dev.loadwitness.reporter.scan.heat.ThermalTally;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.reporter.statistics.CorrelatedMean;
import dev.loadwitness.reporter.statistics.StepResponse;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Role;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;
import java.util.Optional;
import java.util.OptionalDouble;

/**
 * How a part warmed, or cooled, through the last stretch of a stage in which power and fans were steady.
 *
 * @param state whether the stretch tells where the temperature would come to rest
 * @param why one clause for people, where it does not
 * @param response empty if nothing was fitted
 * @param watts mean power of the part over the last half of the stretch, of the stage where there is none; NaN if it was not
 *     read
 * @param wattsError standard error of that mean, of the scatter alone
 * @param fans mean speed of each fan over the stretch
 * @param fromSeconds into the stage, where the stretch begins
 */
public record Warming(
        StageTally stage,
        Role part,
        State state,
        String why,
        Optional<StepResponse> response,
        double watts,
        double wattsError,
        List<Double> fans,
        double fromSeconds) {
    public enum State {
        /** The plateau is known. */
        MEASURED,
        /** Held at a temperature by shedding watts: the watts are the result. */
        REGULATED,
        /** Power or fans changed too late in the stage. */
        UNSTEADY,
        /** It was still moving, or the stretch is too short to tell. */
        TOO_SHORT,
        NOT_READ
    }

    /** How far power and fans may be from what they are at the end (common practice for the fans; ours for the power). */
    public static final double STEADY = 0.05;

    /** What is compared with that are means of this length (our choice): single readings of power scatter by more. */
    private static final double STEADY_MEAN_SECONDS = 20;

    /** Share of a stage's time held back for heat from which on it is regulated, and nothing is fitted (our choice). */
    private static final double REGULATED_SHARE = 0.01;

    /** So close to its target a part is at it: the step of most sensors, and half a step of hunting (our choice). */
    private static final double AT_TARGET_KELVIN = 1.5;

    /** Power that fell by this much while the temperature stood at its target was shed (our choice). */
    private static final double SHED_SHARE = 0.03;

    private static final double ASSUMED_RESOLUTION_KELVIN = 1;

    public Warming {
        fans = List.copyOf(fans);
    }

    static Warming of(StageTally stage, Role part, Scan scan) {
        ThermalTally thermal = stage.thermal();
        Optional<ThermalTally.Line> temperature = thermal.temperature(part).filter(Warming::wasRead);
        if (temperature.isEmpty()) {
            return none(stage, part, State.NOT_READ, "the temperature of " + Texts.part(part) + " was not read");
        }
        Channel channel = temperature.get().channel();
        if (!scan.believes(channel)) {
            return none(stage, part, State.NOT_READ, "the sensor " + channel.id() + " cannot be believed");
        }
        Optional<ThermalTally.Line> power = thermal.power(part).filter(Warming::wasRead);
        if (power.isEmpty()) {
            return none(stage, part, State.NOT_READ, "the power of " + Texts.part(part) + " was not read");
        }
        Stretch stretch = Stretch.atTheEndOf(thermal);
        double[] watts = power.get().means();
        double[] celsius = temperature.get().means();
        Optional<String> regulated = regulated(stage, part, channel, celsius, watts);
        int heldFrom = stretch.from < thermal.bins() ? (stretch.from + thermal.bins()) / 2 : thermal.bins() / 2;
        CorrelatedMean held = CorrelatedMean.of(read(watts, heldFrom, thermal.bins()));
        Warming found = new Warming(
                stage,
                part,
                State.UNSTEADY,
                stretch.why,
                Optional.empty(),
                held.mean(),
                held.standardError(),
                thermal.fans()
                        .map(f -> mean(read(f.means(), stretch.from, thermal.bins())))
                        .toList(),
                stretch.from * thermal.binSeconds());
        if (regulated.isPresent()) {
            return found.with(State.REGULATED, regulated.get(), Optional.empty());
        }
        StepResponse response = StepResponse.of(
                times(thermal, stretch.from),
                Arrays.copyOfRange(celsius, stretch.from, thermal.bins()),
                Double.isNaN(channel.resolution()) ? ASSUMED_RESOLUTION_KELVIN : channel.resolution());
        return switch (response.told()) {
            case YES -> found.with(State.MEASURED, "", Optional.of(response));
            case WINDOW_TOO_SHORT ->
                found.with(
                        stretch.cut ? State.UNSTEADY : State.TOO_SHORT,
                        stretch.cut
                                ? stretch.why
                                : "the " + Texts.duration(response.windowSeconds())
                                        + " of steady load do not tell where it would come to rest",
                        Optional.of(response));
            case TOO_FEW ->
                found.with(
                        stretch.cut ? State.UNSTEADY : State.TOO_SHORT,
                        stretch.cut ? stretch.why : "the stage is too short",
                        Optional.empty());
        };
    }

    private static Warming none(StageTally stage, Role part, State state, String why) {
        return new Warming(stage, part, state, why, Optional.empty(), Double.NaN, Double.NaN, List.of(), 0);
    }

    private Warming with(State newState, String newWhy, Optional<StepResponse> fitted) {
        return new Warming(stage, part, newState, newWhy, fitted, watts, wattsError, fans, fromSeconds);
    }

    public boolean measured() {
        return state == State.MEASURED;
    }

    private static boolean wasRead(ThermalTally.Line line) {
        return Arrays.stream(line.means()).anyMatch(v -> !Double.isNaN(v));
    }

    /** Held back for heat, or at its target while its power fell. */
    private static Optional<String> regulated(
            StageTally stage, Role part, Channel channel, double[] celsius, double[] watts) {
        if (stage.part().equals(Optional.of(part))) {
            Held heat = Held.of(Cause.HEAT, List.of(stage));
            if (heat.episodes() > 0 && heat.seconds() >= REGULATED_SHARE * stage.seconds()) {
                return Optional.of("it was held back for heat for " + Texts.duration(heat.seconds()));
            }
        }
        OptionalDouble target = channel.limit(LimitType.MAX);
        if (target.isEmpty()) {
            target = channel.slowdown();
        }
        double atTheEnd = mean(read(celsius, celsius.length * 3 / 4, celsius.length));
        if (target.isEmpty() || atTheEnd < target.getAsDouble() - AT_TARGET_KELVIN) {
            return Optional.empty();
        }
        double before = mean(read(watts, watts.length / 8, watts.length / 4));
        double after = mean(read(watts, watts.length * 3 / 4, watts.length));
        return after < before * (1 - SHED_SHARE)
                ? Optional.of("it stood at its target of " + Texts.number(target.getAsDouble(), 0)
                        + " °C while its power fell from " + Texts.number(before, 0) + " W to "
                        + Texts.number(after, 0) + " W")
                : Optional.empty();
    }

    private static double[] times(ThermalTally thermal, int from) {
        double[] seconds = new double[thermal.bins() - from];
        for (int i = 0; i < seconds.length; i++) {
            seconds[i] = (from + i + 0.5) * thermal.binSeconds();
        }
        return seconds;
    }

    private static double[] read(double[] values, int from, int to) {
        return Arrays.stream(values, Math.min(from, to), to)
                .filter(v -> !Double.isNaN(v))
                .toArray();
    }

    private static double mean(double[] values) {
        return values.length == 0 ? Double.NaN : Arrays.stream(values).sum() / values.length;
    }

    /** The last bins of a stage in which the power of all parts together and every fan stayed as they are at its end. */
    private record Stretch(int from, boolean cut, String why) {
        static Stretch atTheEndOf(ThermalTally thermal) {
            int bins = thermal.bins();
            int together = (int) Math.max(1, Math.round(STEADY_MEAN_SECONDS / thermal.binSeconds()));
            int settle = (int) Math.min(bins, Math.ceil(Soaks.SETTLE_SECONDS / thermal.binSeconds()));
            List<double[]> watched = new ArrayList<>();
            List<String> names = new ArrayList<>();
            watched.add(allPower(thermal));
            names.add("the power");
            thermal.fans().forEach(f -> {
                watched.add(f.means());
                names.add("the speed of " + f.channel().id());
            });
            int from = settle;
            String why = "the stage is too short";
            boolean cut = false;
            for (int i = 0; i < watched.size(); i++) {
                double[] line = watched.get(i);
                double[] quarter = read(line, bins * 3 / 4, bins);
                Arrays.sort(quarter);
                if (quarter.length == 0) {
                    continue; // a fan that never answered says nothing, for or against
                }
                double end = quarter[quarter.length / 2];
                for (int k = bins - together; k >= from; k -= together) {
                    double now = mean(read(line, k, k + together));
                    if (Math.abs(now - end) > STEADY * Math.abs(end)) {
                        from = Math.min(bins, k + together);
                        cut = true;
                        why = names.get(i) + " changed until "
                                + (from == bins
                                        ? "the end"
                                        : Texts.duration((bins - from) * thermal.binSeconds())
                                                + " before the end, and what is left does not tell where it would"
                                                + " come to rest");
                        break;
                    }
                }
            }
            return new Stretch(from, cut, why);
        }

        private static double[] allPower(ThermalTally thermal) {
            double[] sum = new double[thermal.bins()];
            for (Role role : List.of(Role.CPU, Role.GPU_DISCRETE, Role.GPU_INTEGRATED)) {
                // An integrated GPU's power is in the processor's, where that is read.
                boolean counted =
                        role == Role.GPU_INTEGRATED && thermal.power(Role.CPU).isPresent();
                Optional<double[]> line =
                        thermal.power(role).filter(l -> !counted).map(ThermalTally.Line::means);
                for (int i = 0; line.isPresent() && i < sum.length; i++) {
                    double value = line.get()[i];
                    sum[i] += Double.isNaN(value) ? 0 : value;
                }
            }
            return sum;
        }
    }
}

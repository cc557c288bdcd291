// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.heat;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Warming;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.reporter.statistics.CoupledHeat;
import dev.loadwitness.runlog.Role;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import java.util.function.Function;
import java.util.stream.Collectors;

/** CPU and discrete GPU on one heatsink: which of their resistances the stages of a run tell apart. One line for people. */
final class SharedHeat {
    /** Beyond this the stages load both parts in nearly the same proportion (our choice). */
    private static final double WORST_CONDITION = 10;

    private static final List<Role> PARTS = List.of(Role.GPU_DISCRETE, Role.CPU);

    /** One state of rest: what both parts drew, and how far both were above the room. */
    @SuppressWarnings("ArrayRecordComponent") // rows of a small matrix, seen by this class only
    private record Rest(StageTally stage, double[] watts, double[] rises, double[] errors, List<Double> fans) {}

    private SharedHeat() {}

    static Evidence of(Case run, Warming reference, double ambient, double ambientError) {
        List<Rest> all = run.scan().stages().stream()
                .map(stage -> rest(stage, run, ambient))
                .flatMap(Optional::stream)
                .toList();
        List<Rest> sameAir =
                all.stream().filter(r -> sameAir(r.fans, reference.fans())).toList();
        String stages = sameAir.stream().map(r -> r.stage.stage().id()).collect(Collectors.joining(", "));
        if (reference.fans().isEmpty()) {
            return note("not separated: no fan's speed was read, so that nothing says whether it was the same");
        }
        if (sameAir.size() < PARTS.size()) {
            return note("not separated: it takes " + PARTS.size() + " stages or more in which both came to rest at"
                    + " one fan speed, here "
                    + (sameAir.isEmpty() ? "there is none" : "there is only " + stages)
                    + (all.size() > sameAir.size() ? ", the others ran at other speeds" : ""));
        }
        Optional<CoupledHeat> solved = CoupledHeat.of(
                rows(sameAir, Rest::watts), rows(sameAir, Rest::rises), rows(sameAir, Rest::errors), ambientError);
        if (solved.isEmpty() || solved.get().condition() > WORST_CONDITION) {
            return note("not separated: stages " + stages + " load both parts in nearly the same proportion"
                    + solved.map(c -> " (condition " + Texts.number(c.condition(), 0) + ")")
                            .orElse(""));
        }
        return note(told(solved.get(), stages));
    }

    private static String told(CoupledHeat heat, String stages) {
        return "a watt of the GPU warms the GPU by " + entry(heat, 0, 0) + " K and the CPU by " + entry(heat, 1, 0)
                + " K, a watt of the CPU the CPU by " + entry(heat, 1, 1) + " K and the GPU by " + entry(heat, 0, 1)
                + " K (95 %; stages " + stages + "); the first over the third is "
                + Texts.number(heat.resistance()[0][0] / heat.resistance()[1][1], 2)
                + ". It names no cause by itself: compared with the same machine before, or with its like, the first"
                + " alone higher would fit a poor contact of the GPU, all four higher fans or vents";
    }

    private static String entry(CoupledHeat heat, int warms, int draws) {
        return Texts.number(heat.resistance()[warms][draws], 2) + " ± "
                + Texts.number(2 * heat.standardErrors()[warms][draws], 2);
    }

    private static Evidence note(String text) {
        return Evidence.named("shared heatsink", text);
    }

    private static Optional<Rest> rest(StageTally stage, Case run, double ambient) {
        double[] watts = new double[PARTS.size()];
        double[] rises = new double[PARTS.size()];
        double[] errors = new double[PARTS.size()];
        List<Double> fans = new ArrayList<>();
        for (int i = 0; i < watts.length; i++) {
            Warming w = run.warming(stage, PARTS.get(i));
            if (!w.measured()) {
                return Optional.empty();
            }
            watts[i] = w.watts();
            rises[i] = w.response().orElseThrow().plateau() - ambient;
            errors[i] = w.response().orElseThrow().halfWidth() / 2;
            fans.clear();
            fans.addAll(w.fans());
        }
        return Optional.of(new Rest(stage, watts, rises, errors, List.copyOf(fans)));
    }

    private static boolean sameAir(List<Double> fans, List<Double> reference) {
        if (fans.size() != reference.size()) {
            return false;
        }
        for (int i = 0; i < fans.size(); i++) {
            if (!(Math.abs(fans.get(i) - reference.get(i)) <= Warming.STEADY * Math.abs(reference.get(i)))) {
                return false;
            }
        }
        return true;
    }

    private static double[][] rows(List<Rest> rests, Function<Rest, double[]> what) {
        return rests.stream().map(what).toArray(double[][]::new);
    }
}

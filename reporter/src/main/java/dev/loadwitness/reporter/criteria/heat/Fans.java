// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.heat;

import static dev.loadwitness.runlog.procedure.Parameters.Fans.HOT;
import static dev.loadwitness.runlog.procedure.Parameters.Fans.STILL_FOR;
import static java.util.Objects.requireNonNull;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.finding.Value;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.machine.FanTally;
import dev.loadwitness.runlog.FanPlace;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.ArrayList;
import java.util.List;
import java.util.stream.Collectors;

/**
 * No fan that turned stands still while what it cools is hot. One that always runs at full speed, and one that stands still
 * while cold, are as good as any.
 */
public final class Fans implements Rule {
    @Override
    public Criterion criterion() {
        return Criterion.FANS;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        double hot = setting.celsius(HOT);
        double longest = setting.seconds(STILL_FOR);
        Limit limit = Limit.said("turning from " + Texts.number(hot, 0) + " °C on, but for " + Texts.duration(longest));
        List<FanTally> fans = run.scan().fans().stream()
                .filter(f -> !Double.isNaN(f.highestRpm()))
                .toList();
        boolean heatRead = run.scan().temperatures().stream()
                .anyMatch(t -> t.readings() > 0 && FanPlace.chip(t.channel()).isPresent());
        if (fans.isEmpty() || !heatRead) {
            return List.of(Finding.of(
                            setting,
                            "",
                            Outcome.NOT_MEASURED,
                            fans.isEmpty()
                                    ? "No fan on this machine could be read. Listen, and say on the job sheet what was"
                                            + " heard."
                                    : "No temperature tells when the fans must turn.")
                    .against(limit, setting.origin(HOT)));
        }
        boolean anyTurned = fans.stream().anyMatch(f -> f.highestRpm() > 0);
        List<String> failed = new ArrayList<>();
        List<String> open = new ArrayList<>();
        List<Evidence> evidence = new ArrayList<>();
        for (FanTally fan : fans) {
            String id = fan.channel().id();
            String where = fan.cools().map(Texts::part).orElse("each chip");
            if (reached(fan.still(), longest)) {
                failed.add("The fan " + id + " stood still for "
                        + Texts.duration(fan.still().seconds()) + " from "
                        + begin(fan.still()).clock() + " while " + where + " was at up to "
                        + Texts.number(fan.still().celsius(), 0)
                        + " °C: look at the fan, its plug and its driver on the board.");
                evidence.add(Evidence.of(begin(fan.still()), id + " stands still, hot"));
            }
            if (reached(fan.stillOther(), longest)) {
                open.add("The fan " + id + " stood still for "
                        + Texts.duration(fan.stillOther().seconds())
                        + " from " + begin(fan.stillOther()).clock()
                        + " while one chip was hot and another was not, and does not say which of them it cools.");
                evidence.add(Evidence.of(begin(fan.stillOther()), id + " stands still, one chip hot"));
            }
            if (reached(fan.silent(), longest)) {
                open.add("The fan " + id + " gave no reading for "
                        + Texts.duration(fan.silent().seconds()) + " from "
                        + begin(fan.silent()).clock() + " while " + where + " was hot.");
                evidence.add(Evidence.of(begin(fan.silent()), id + " gives no reading, hot"));
            }
            if (reached(fan.neverTurned(), longest)) {
                evidence.add(Evidence.of(begin(fan.neverTurned()), id + " reads 0 rpm throughout, hot"));
                if (fan.cools().isPresent() || !anyTurned) {
                    open.add("The fan " + id + " reads 0 rpm throughout, also while " + where + " was at "
                            + Texts.number(fan.neverTurned().celsius(), 0)
                            + " °C: it is dead, or none is fitted there. Look.");
                }
            }
        }
        boolean everHot = fans.stream().anyMatch(f -> f.hotSeconds() > 0);
        Outcome outcome = !failed.isEmpty() ? Outcome.FAIL : !open.isEmpty() ? Outcome.INCONCLUSIVE : Outcome.PASS;
        String because = !failed.isEmpty()
                ? failed.get(0)
                : !open.isEmpty()
                        ? open.get(0)
                        : everHot
                                ? "Every fan that turned went on turning while what it cools was hot."
                                : "Nothing that the fans cool reached " + Texts.number(hot, 0) + " °C.";
        return List.of(Finding.of(setting, "", outcome, because)
                .against(limit, setting.origin(HOT))
                .measured(Value.said(measured(fans, longest)))
                .seen(evidence));
    }

    /** {@code 1 of 2 turned; fan.gpu.speed stalled}. */
    private static String measured(List<FanTally> fans, double longest) {
        List<FanTally> stalled = fans.stream()
                .filter(f -> reached(f.still(), longest) || reached(f.stillOther(), longest))
                .toList();
        List<FanTally> silent = fans.stream()
                .filter(f -> !stalled.contains(f) && reached(f.silent(), longest))
                .toList();
        List<FanTally> never = fans.stream().filter(f -> f.highestRpm() <= 0).toList();
        int turned = fans.size() - stalled.size() - silent.size() - never.size();
        return turned + " of " + fans.size() + " turned" + named(stalled, " stalled") + named(silent, " fell silent")
                + named(never, " never turned");
    }

    private static String named(List<FanTally> fans, String what) {
        return fans.isEmpty()
                ? ""
                : "; " + fans.stream().map(f -> f.channel().id()).collect(Collectors.joining(", ")) + what;
    }

    private static boolean reached(FanTally.Stretch stretch, double longest) {
        return stretch.begin() != null && stretch.seconds() >= longest;
    }

    private static At begin(FanTally.Stretch reached) {
        return requireNonNull(reached.begin(), "only what began lasts");
    }
}

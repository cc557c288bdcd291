// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.evidence;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.scan.belief.SensorFault;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.Need;
import java.util.ArrayList;
import java.util.List;
import java.util.Locale;
import java.util.Optional;

/**
 * What becomes of a finding when a channel that its criterion reads answered and measured nothing. Said here once, so that
 * no rule has to ask.
 *
 * <p>Temperatures that cannot be believed never reach a rule (see {@link dev.loadwitness.reporter.scan.Scan#sensorFaults}): what
 * the others show stays, but a pass without one of them is none. Power reaches it, so that nothing it says stays, unless the
 * part's counter of energy is there, which is read instead.
 */
public final class Sensors {
    /** From here on a number is easier read with its power of ten. */
    private static final double LONG_NUMBER = 1e9;

    private Sensors() {}

    /** What a criterion reads, beyond what it needs to be judged at all. */
    private static List<Need> reads(Criterion criterion) {
        List<Need> all = new ArrayList<>(criterion.needs());
        if (criterion == Criterion.SOAK_DURATION) {
            all.add(new Need(Optional.empty(), List.of(Metric.POWER, Metric.ENERGY)));
        } else if (criterion == Criterion.FANS) {
            for (Role chip : List.of(Role.CPU, Role.GPU_DISCRETE, Role.GPU_INTEGRATED)) {
                all.add(new Need(Optional.of(chip), List.of(Metric.TEMPERATURE)));
            }
        }
        return all;
    }

    public static Finding judged(Finding finding, Case run) {
        if (run.scan().sensorFaults().isEmpty() || finding.outcome() == Outcome.NOT_APPLICABLE) {
            return finding;
        }
        Finding judged = finding;
        for (Need need : reads(finding.criterion())) {
            for (SensorFault fault : run.scan().sensorFaults()) {
                if (concerns(need, fault.channel(), finding, run)) {
                    judged = judged(judged, need, fault, run);
                }
            }
        }
        return judged;
    }

    private static boolean concerns(Need need, Channel faulty, Finding finding, Case run) {
        if (need.anyOf().stream().noneMatch(metric -> faulty.is(faulty.role(), metric))) {
            return false;
        }
        boolean itsPart = need.role().isPresent()
                ? need.role().get() == faulty.role()
                : finding.subject().isEmpty()
                        ? run.parts().contains(faulty.role())
                        : finding.subject().equals(faulty.role().word());
        // A GPU's memory or hot spot without a limit of its own is judged by no one.
        boolean itMatters = !isTemperature(faulty)
                || faulty.slowdown().isPresent()
                || faulty.isOfTheChip(run.scan().channels());
        return itsPart && itMatters;
    }

    private static Finding judged(Finding finding, Need need, SensorFault fault, Case run) {
        Evidence evidence = Evidence.of(fault.at(), seen(fault));
        boolean leftOut = isTemperature(fault.channel()) && finding.criterion() != Criterion.FANS;
        boolean stays = leftOut
                ? finding.outcome() == Outcome.FAIL || finding.outcome() == Outcome.INCONCLUSIVE
                : run.scan().channels().stream()
                        .filter(run.scan()::believes)
                        .anyMatch(c -> need.anyOf().stream()
                                .anyMatch(m -> c.is(fault.channel().role(), m)));
        return stays ? finding.alsoSeen(evidence) : finding.unmeasured(because(fault), evidence);
    }

    private static boolean isTemperature(Channel channel) {
        return channel.measures(Metric.TEMPERATURE);
    }

    private static String because(SensorFault fault) {
        String id = "The sensor " + fault.channel().id();
        return switch (fault.kind()) {
            case STUCK ->
                id + " is stuck: it read " + reading(fault) + " without moving while the load on "
                        + Texts.part(fault.channel().role()) + " came or went.";
            case IMPOSSIBLE ->
                id + " cannot be believed: " + fault.count() + " of its " + fault.readings()
                        + " readings cannot be, the first of them " + reading(fault) + ".";
            case JUMPED ->
                id + " cannot be believed: at " + fault.at().clock() + " it jumped to " + reading(fault)
                        + " and stayed, faster than heat can move.";
        };
    }

    private static String seen(SensorFault fault) {
        String id = fault.channel().id();
        return switch (fault.kind()) {
            case STUCK -> id + ": reading stands still from here";
            case IMPOSSIBLE -> id + ": first reading that cannot be";
            case JUMPED -> id + ": jumps";
        };
    }

    private static String reading(SensorFault fault) {
        String unit = fault.channel().metric().unit();
        String value = Math.abs(fault.value()) < LONG_NUMBER
                ? Texts.number(fault.value(), 1)
                : String.format(Locale.ROOT, "%.1e", fault.value());
        return value + (isTemperature(fault.channel()) ? " °C" : unit.equals("1") ? "" : " " + unit);
    }
}

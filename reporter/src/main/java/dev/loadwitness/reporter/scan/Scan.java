// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import dev.loadwitness.reporter.scan.belief.SensorFault;
import dev.loadwitness.reporter.scan.belief.WorkTally;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.NotedEvent;
import dev.loadwitness.reporter.scan.heat.TemperatureTally;
import dev.loadwitness.reporter.scan.heat.ThermalTally;
import dev.loadwitness.reporter.scan.machine.AskTally;
import dev.loadwitness.reporter.scan.machine.AwakeTally;
import dev.loadwitness.reporter.scan.machine.ErrorTally;
import dev.loadwitness.reporter.scan.machine.FanTally;
import dev.loadwitness.reporter.scan.machine.PowerLimitTally;
import dev.loadwitness.reporter.scan.machine.SupplyTally;
import dev.loadwitness.reporter.scan.series.Series;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.reporter.scan.stage.StepTally;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.file.read.ReadSummary;
import dev.loadwitness.runlog.procedure.Procedure;
import java.util.List;
import java.util.Optional;
import java.util.stream.Stream;

/**
 * What one pass over a log gives.
 *
 * @param procedure as it was run: with the durations that it gives the repaired rail
 * @param repairedRail as the job sheet in the log names it; empty if no stage of the procedure asks for it
 * @param stages in the order in which they ran
 * @param channels every channel of any boot, by id; the description of the first boot that had it
 * @param sensorFaults channels that answered and yet measured nothing: they are in {@code channels}, and left out of
 *     {@code temperatures} and of each stage's {@link ThermalTally}
 * @param temperatures one for each other temperature channel
 * @param highestLimitOnMains highest power limit seen on mains, by part; see {@link PowerLimitTally}
 * @param work of our own loads, by part, over the whole run
 * @param errors one for each counter of errors that the platform reports
 * @param fans one for each fan
 * @param awake one for each part of whose sleep the kernel tells
 * @param asks what stages asked of a person, in order
 * @param events the first ten thousand, in order, without the edges of load steps (see {@link StepTally})
 * @param eventCount all of those
 * @param samplesDue as many as the procedure's period gives between the first and the last sample of each segment
 * @param samples as many as there are
 * @param series for drawing; empty unless asked for
 */
public record Scan(
        Header header,
        Procedure procedure,
        String repairedRail,
        ReadSummary read,
        List<Segment> segments,
        List<StageTally> stages,
        List<Channel> channels,
        List<SensorFault> sensorFaults,
        List<TemperatureTally> temperatures,
        List<PowerLimitTally> highestLimitOnMains,
        List<WorkTally> work,
        List<ErrorTally> errors,
        SupplyTally supply,
        List<FanTally> fans,
        List<AwakeTally> awake,
        List<AskTally> asks,
        List<NotedEvent> events,
        long eventCount,
        Optional<Close> close,
        Optional<At> closedAt,
        long samplesDue,
        long samples,
        List<Series> series) {
    public Scan {
        segments = List.copyOf(segments);
        stages = List.copyOf(stages);
        channels = List.copyOf(channels);
        sensorFaults = List.copyOf(sensorFaults);
        temperatures = List.copyOf(temperatures);
        highestLimitOnMains = List.copyOf(highestLimitOnMains);
        work = List.copyOf(work);
        errors = List.copyOf(errors);
        fans = List.copyOf(fans);
        awake = List.copyOf(awake);
        asks = List.copyOf(asks);
        events = List.copyOf(events);
        series = List.copyOf(series);
    }

    public Stream<NotedEvent> events(EventKind kind) {
        return events.stream().filter(e -> e.event().kind().equals(kind.word()));
    }

    public Stream<StageTally> stagesThatProve(Role role) {
        return stages.stream().filter(s -> s.stage().proves().equals(Optional.of(role)));
    }

    /** Stages that load a GPU and prove nothing. */
    public Stream<StageTally> stagesThatOnlyLoad(Role gpu) {
        return stages.stream()
                .filter(s -> s.stage().proves().isEmpty() && s.stage().gpu().equals(Optional.of(gpu)));
    }

    public boolean has(Role role, Metric metric) {
        return channels.stream().anyMatch(c -> c.is(role, metric));
    }

    /** Whether what the channel read can be believed. */
    public boolean believes(Channel channel) {
        return sensorFaults.stream().noneMatch(f -> f.channel().id().equals(channel.id()));
    }

    public Optional<PowerLimitTally> powerLimit(Role role) {
        return highestLimitOnMains.stream().filter(l -> l.role() == role).findFirst();
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.jobsheet;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.runlog.procedure.Criterion;
import java.time.LocalDate;
import java.util.Collections;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.TreeMap;

/**
 * The technician's own facts about a job. Everything but the ticket may be left open; what is open is printed as such.
 *
 * @param customer a name or a number; whatever the shop wants on the report
 * @param received when the machine came in
 * @param repairedRail for example {@code graphics core}
 * @param ratedGraphicsWatts the graphics power this machine was sold with: the fixed reference for a full load
 * @param wallMeter readings between wall and adapter
 * @param minutesBetweenFaults observed intervals between the reported shut-offs before the repair
 * @param notApplicable criteria that do not apply to this machine, each with the reason, which is printed
 */
public record JobSheet(
        String ticket,
        String shop,
        String technician,
        String customer,
        Optional<LocalDate> received,
        Machine machine,
        String reportedFault,
        List<String> workDone,
        String repairedRail,
        OptionalDouble ratedGraphicsWatts,
        OptionalDouble adapterWatts,
        WallMeter wallMeter,
        List<Double> minutesBetweenFaults,
        List<Rail> rails,
        List<HandCheck> handChecks,
        Map<Criterion, String> notApplicable) {
    public JobSheet {
        requireNonNull(ticket, "ticket");
        requireNonNull(shop, "shop");
        requireNonNull(technician, "technician");
        requireNonNull(customer, "customer");
        requireNonNull(received, "received");
        requireNonNull(machine, "machine");
        requireNonNull(reportedFault, "reportedFault");
        workDone = List.copyOf(workDone);
        requireNonNull(repairedRail, "repairedRail");
        requireNonNull(ratedGraphicsWatts, "ratedGraphicsWatts");
        requireNonNull(adapterWatts, "adapterWatts");
        requireNonNull(wallMeter, "wallMeter");
        minutesBetweenFaults = List.copyOf(minutesBetweenFaults);
        rails = List.copyOf(rails);
        handChecks = List.copyOf(handChecks);
        // In the order of the enum: an unordered copy would print differently from run to run.
        notApplicable = Collections.unmodifiableMap(new TreeMap<>(Map.copyOf(notApplicable)));
    }

    /** A job of which nothing but the ticket is known. */
    public static JobSheet empty(String ticket) {
        return new JobSheet(
                ticket,
                "",
                "",
                "",
                Optional.empty(),
                new Machine("", "", ""),
                "",
                List.of(),
                "",
                OptionalDouble.empty(),
                OptionalDouble.empty(),
                WallMeter.NONE,
                List.of(),
                List.of(),
                List.of(),
                Map.of());
    }

    /** The machine as the technician identified it; empty texts where left open. */
    public record Machine(String make, String model, String serial) {
        public Machine {
            requireNonNull(make, "make");
            requireNonNull(model, "model");
            requireNonNull(serial, "serial");
        }
    }

    /**
     * A power meter between wall and adapter, read by hand: the only witness of power that the machine does not bring
     * itself.
     *
     * @param idleWatts in the idle stage
     * @param soakWatts in the longest soak, once the fans have settled
     */
    public record WallMeter(OptionalDouble idleWatts, OptionalDouble soakWatts) {
        public static final WallMeter NONE = new WallMeter(OptionalDouble.empty(), OptionalDouble.empty());

        public WallMeter {
            requireNonNull(idleWatts, "idleWatts");
            requireNonNull(soakWatts, "soakWatts");
        }
    }

    /**
     * One supply rail, as measured by hand.
     *
     * @param ohmsBefore resistance to ground before the repair, power off
     * @param voltsAfter after the repair, in the state named
     * @param state idle, loaded, standby, …
     */
    public record Rail(
            String name, OptionalDouble ohmsBefore, OptionalDouble ohmsAfter, OptionalDouble voltsAfter, String state) {
        public Rail {
            requireNonNull(name, "name");
            requireNonNull(ohmsBefore, "ohmsBefore");
            requireNonNull(ohmsAfter, "ohmsAfter");
            requireNonNull(voltsAfter, "voltsAfter");
            requireNonNull(state, "state");
        }
    }

    /** Something only a person can check. */
    public record HandCheck(String name, boolean done, String note) {
        public HandCheck {
            requireNonNull(name, "name");
            requireNonNull(note, "note");
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.jobsheet;

import dev.loadwitness.runlog.Word;
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
 * Texts that were left open are empty, never null.
 *
 * @param notApplicable criteria that do not apply to this machine, each with the reason, which is printed
 * @param sha256 of the file that this was read from, lower-case hex; empty for a sheet that never was a file
 */
public record JobSheet(
        String ticket,
        Issuer issuer,
        Intake intake,
        Machine machine,
        Repair repair,
        Power power,
        Bench bench,
        List<Rail> rails,
        List<HandCheck> handChecks,
        Closing closing,
        Map<Criterion, String> notApplicable,
        String sha256) {
    public JobSheet {
        rails = List.copyOf(rails);
        handChecks = List.copyOf(handChecks);
        // In the order of the enum: an unordered copy would print differently from run to run.
        notApplicable = Collections.unmodifiableMap(new TreeMap<>(Map.copyOf(notApplicable)));
    }

    /** A job of which nothing but the ticket is known. */
    public static JobSheet empty(String ticket) {
        return new JobSheet(
                ticket,
                Issuer.NONE,
                Intake.NONE,
                new Machine("", "", ""),
                Repair.NONE,
                Power.NONE,
                Bench.NONE,
                List.of(),
                List.of(),
                Closing.NONE,
                Map.of(),
                "");
    }

    /** The same, read from a file with this digest. */
    JobSheet readFrom(String digest) {
        return new JobSheet(
                ticket,
                issuer,
                intake,
                machine,
                repair,
                power,
                bench,
                rails,
                handChecks,
                closing,
                notApplicable,
                digest);
    }

    public String shop() {
        return issuer.shop();
    }

    public String technician() {
        return issuer.technician();
    }

    public String customer() {
        return intake.customer();
    }

    public Optional<LocalDate> received() {
        return intake.received();
    }

    public String reportedFault() {
        return intake.reportedFault();
    }

    public List<Double> minutesBetweenFaults() {
        return intake.minutesBetweenFaults();
    }

    public List<String> workDone() {
        return repair.workDone();
    }

    public String repairedRail() {
        return repair.repairedRail();
    }

    public OptionalDouble ratedGraphicsWatts() {
        return power.ratedGraphicsWatts();
    }

    public OptionalDouble adapterWatts() {
        return power.adapter().watts();
    }

    public Power.WallMeter wallMeter() {
        return power.wallMeter();
    }

    /**
     * Who answers for the report.
     *
     * @param authorisedBy who lets the report go out, if not the technician
     * @param warranty in the shop's own words
     * @param earlierReport number of a report that this one follows or replaces
     */
    public record Issuer(String shop, String technician, String authorisedBy, String warranty, String earlierReport) {
        public static final Issuer NONE = new Issuer("", "", "", "", "");
    }

    /**
     * What came in, and why.
     *
     * @param customer a name or a number; whatever the shop wants on the report
     * @param customerReference the customer's own number for the job
     * @param received when the machine came in
     * @param condition damage, liquid, earlier repairs, missing parts, as seen before anything was done
     * @param minutesBetweenFaults observed intervals between the reported shut-offs before the repair
     */
    public record Intake(
            String customer,
            String customerReference,
            Optional<LocalDate> received,
            String reportedFault,
            String condition,
            List<Double> minutesBetweenFaults) {
        public static final Intake NONE = new Intake("", "", Optional.empty(), "", "", List.of());

        public Intake {
            minutesBetweenFaults = List.copyOf(minutesBetweenFaults);
        }
    }

    /** The machine as the technician identified it; empty texts where left open. */
    public record Machine(String make, String model, String serial) {}

    /**
     * What was found and done.
     *
     * @param repairedRail for example {@code graphics core}
     * @param knownFaults what was seen and left unrepaired
     */
    public record Repair(
            List<String> findings,
            List<String> workDone,
            List<String> partsReplaced,
            String repairedRail,
            List<String> knownFaults) {
        public static final Repair NONE = new Repair(List.of(), List.of(), List.of(), "", List.of());

        public Repair {
            findings = List.copyOf(findings);
            workDone = List.copyOf(workDone);
            partsReplaced = List.copyOf(partsReplaced);
            knownFaults = List.copyOf(knownFaults);
        }
    }

    /**
     * Where and with what it was measured by hand.
     *
     * @param ambientHow where the thermometer was, and which one
     */
    public record Bench(OptionalDouble ambientCelsius, String ambientHow, List<Instrument> instruments) {
        public static final Bench NONE = new Bench(OptionalDouble.empty(), "", List.of());

        public Bench {
            instruments = List.copyOf(instruments);
        }
    }

    /**
     * What was measured with.
     *
     * @param calibration when and by whom it was last checked, or that it was not
     */
    public record Instrument(String name, String serial, String calibration) {}

    /**
     * Something only a person can check.
     *
     * @param note for a check that does not apply: why
     */
    public record HandCheck(String name, State state, String note) {
        /** How far it got. */
        public enum State implements Word {
            /** Not yet done, or left empty. */
            OPEN,
            /** Done, and in order. */
            DONE,
            FAILED,
            NOT_APPLICABLE
        }

        public boolean done() {
            return state == State.DONE;
        }
    }

    /**
     * How the machine left the bench.
     *
     * @param seal number of the seal on the case
     * @param closedSinceTest whether it was tested closed and not reopened since
     * @param photos kept by the shop; only their digests go anywhere
     */
    public record Closing(String seal, Optional<Boolean> closedSinceTest, List<Photo> photos) {
        public static final Closing NONE = new Closing("", Optional.empty(), List.of());

        public Closing {
            photos = List.copyOf(photos);
        }
    }

    /**
     * A photograph by its name and digest.
     *
     * @param file name without a folder: it lies beside the sheet, or elsewhere in the shop
     * @param sha256 lower-case hex; empty where left open
     */
    public record Photo(String file, String sha256, String note) {}
}

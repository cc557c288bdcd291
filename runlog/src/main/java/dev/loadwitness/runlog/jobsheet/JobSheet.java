// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.jobsheet;

import static java.util.Objects.requireNonNull;

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
        requireNonNull(ticket, "ticket");
        requireNonNull(issuer, "issuer");
        requireNonNull(intake, "intake");
        requireNonNull(machine, "machine");
        requireNonNull(repair, "repair");
        requireNonNull(power, "power");
        requireNonNull(bench, "bench");
        rails = List.copyOf(rails);
        handChecks = List.copyOf(handChecks);
        requireNonNull(closing, "closing");
        // In the order of the enum: an unordered copy would print differently from run to run.
        notApplicable = Collections.unmodifiableMap(new TreeMap<>(Map.copyOf(notApplicable)));
        requireNonNull(sha256, "sha256");
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

    public WallMeter wallMeter() {
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

        public Issuer {
            requireNonNull(shop, "shop");
            requireNonNull(technician, "technician");
            requireNonNull(authorisedBy, "authorisedBy");
            requireNonNull(warranty, "warranty");
            requireNonNull(earlierReport, "earlierReport");
        }
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
            requireNonNull(customer, "customer");
            requireNonNull(customerReference, "customerReference");
            requireNonNull(received, "received");
            requireNonNull(reportedFault, "reportedFault");
            requireNonNull(condition, "condition");
            minutesBetweenFaults = List.copyOf(minutesBetweenFaults);
        }
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
            requireNonNull(repairedRail, "repairedRail");
            knownFaults = List.copyOf(knownFaults);
        }
    }

    /**
     * What feeds the machine, and what it was sold to draw.
     *
     * @param ratedGraphicsWatts the graphics power this machine was sold with: the fixed reference for a full load
     * @param ratingOrigin where that number is from: the maker's data sheet, the box, a dealer's page
     * @param wallMeter readings between wall and adapter
     */
    public record Power(
            OptionalDouble ratedGraphicsWatts,
            String ratingOrigin,
            Adapter adapter,
            Battery battery,
            WallMeter wallMeter) {
        public static final Power NONE =
                new Power(OptionalDouble.empty(), "", Adapter.NONE, Battery.NONE, WallMeter.NONE);

        public Power {
            requireNonNull(ratedGraphicsWatts, "ratedGraphicsWatts");
            requireNonNull(ratingOrigin, "ratingOrigin");
            requireNonNull(adapter, "adapter");
            requireNonNull(battery, "battery");
            requireNonNull(wallMeter, "wallMeter");
        }
    }

    /** Whose part was used on the bench. */
    public enum Owner implements Word {
        CUSTOMER,
        BENCH
    }

    /**
     * The adapter used on the bench.
     *
     * @param label what is printed on it
     * @param recognised whether the machine took it for one of full power
     */
    public record Adapter(OptionalDouble watts, String label, Optional<Boolean> recognised, Optional<Owner> whose) {
        public static final Adapter NONE = new Adapter(OptionalDouble.empty(), "", Optional.empty(), Optional.empty());

        public Adapter {
            requireNonNull(watts, "watts");
            requireNonNull(label, "label");
            requireNonNull(recognised, "recognised");
            requireNonNull(whose, "whose");
        }
    }

    /**
     * The battery used on the bench.
     *
     * @param label what is printed on it
     * @param condition swollen, worn, new, …
     */
    public record Battery(String label, String condition, Optional<Owner> whose) {
        public static final Battery NONE = new Battery("", "", Optional.empty());

        public Battery {
            requireNonNull(label, "label");
            requireNonNull(condition, "condition");
            requireNonNull(whose, "whose");
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
     * Where and with what it was measured by hand.
     *
     * @param ambientHow where the thermometer was, and which one
     */
    public record Bench(OptionalDouble ambientCelsius, String ambientHow, List<Instrument> instruments) {
        public static final Bench NONE = new Bench(OptionalDouble.empty(), "", List.of());

        public Bench {
            requireNonNull(ambientCelsius, "ambientCelsius");
            requireNonNull(ambientHow, "ambientHow");
            instruments = List.copyOf(instruments);
        }
    }

    /**
     * What was measured with.
     *
     * @param calibration when and by whom it was last checked, or that it was not
     */
    public record Instrument(String name, String serial, String calibration) {
        public Instrument {
            requireNonNull(name, "name");
            requireNonNull(serial, "serial");
            requireNonNull(calibration, "calibration");
        }
    }

    /** Whether a rail has a voltage of its own, or is told one from moment to moment. */
    public enum RailKind implements Word {
        FIXED,
        /** Set by the chip that it feeds: what is right depends on the load. */
        CONTROLLED
    }

    /**
     * One supply rail, as measured by hand.
     *
     * @param kind empty where left open: then only limits of its own judge it
     * @param nominalVolts what the board's papers say
     * @param toleranceShare how far it may be from nominal, as a fraction of it
     * @param voltsLeast its own lower limit, instead of a tolerance
     * @param voltsMost its own upper limit
     * @param limitsOrigin where tolerance or limits are from
     * @param state idle, loaded, standby or off; any other text is kept as it is
     * @param uncertaintyVolts expanded (k = 2), of the voltage after
     * @param knownGood the same of a board that is known to be good
     */
    public record Rail(
            String name,
            Optional<RailKind> kind,
            OptionalDouble nominalVolts,
            OptionalDouble toleranceShare,
            OptionalDouble voltsLeast,
            OptionalDouble voltsMost,
            String limitsOrigin,
            String state,
            Reading before,
            Reading after,
            OptionalDouble uncertaintyVolts,
            Reading knownGood) {
        public static final String OFF = "off";
        public static final List<String> STATES = List.of("idle", "loaded", "standby", OFF);

        public Rail {
            requireNonNull(name, "name");
            requireNonNull(kind, "kind");
            requireNonNull(nominalVolts, "nominalVolts");
            requireNonNull(toleranceShare, "toleranceShare");
            requireNonNull(voltsLeast, "voltsLeast");
            requireNonNull(voltsMost, "voltsMost");
            requireNonNull(limitsOrigin, "limitsOrigin");
            requireNonNull(state, "state");
            requireNonNull(before, "before");
            requireNonNull(after, "after");
            requireNonNull(uncertaintyVolts, "uncertaintyVolts");
            requireNonNull(knownGood, "knownGood");
        }

        /** A rail of which only these are known. */
        public static Rail of(
                String name,
                OptionalDouble ohmsBefore,
                OptionalDouble ohmsAfter,
                OptionalDouble voltsAfter,
                String state) {
            OptionalDouble none = OptionalDouble.empty();
            return new Rail(
                    name,
                    Optional.empty(),
                    none,
                    none,
                    none,
                    none,
                    "",
                    state,
                    new Reading(none, ohmsBefore, none),
                    new Reading(voltsAfter, ohmsAfter, none),
                    none,
                    Reading.NONE);
        }

        /** Before the repair, with the power off. */
        public OptionalDouble ohmsBefore() {
            return before.ohms();
        }

        public OptionalDouble ohmsAfter() {
            return after.ohms();
        }

        /** In the state named. */
        public OptionalDouble voltsAfter() {
            return after.volts();
        }

        /** Name and state, which together tell two lines of one rail apart: {@code main 5 V, idle}. */
        public String title() {
            return state.isEmpty() ? name : name + ", " + state;
        }

        /** Whether the sheet itself says within which volts this rail must be. */
        public boolean hasOwnLimits() {
            return voltsLeast.isPresent()
                    || voltsMost.isPresent()
                    || (nominalVolts.isPresent() && toleranceShare.isPresent());
        }
    }

    /**
     * What a meter said at one rail.
     *
     * @param volts powered, in the rail's state
     * @param ohms to ground, power off
     * @param diodeVolts the meter's diode range, red probe to ground, power off
     */
    public record Reading(OptionalDouble volts, OptionalDouble ohms, OptionalDouble diodeVolts) {
        public static final Reading NONE =
                new Reading(OptionalDouble.empty(), OptionalDouble.empty(), OptionalDouble.empty());

        public Reading {
            requireNonNull(volts, "volts");
            requireNonNull(ohms, "ohms");
            requireNonNull(diodeVolts, "diodeVolts");
        }

        public boolean isEmpty() {
            return equals(NONE);
        }
    }

    /**
     * Something only a person can check.
     *
     * @param note for a check that does not apply: why
     */
    public record HandCheck(String name, State state, String note) {
        public HandCheck {
            requireNonNull(name, "name");
            requireNonNull(state, "state");
            requireNonNull(note, "note");
        }

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
            requireNonNull(seal, "seal");
            requireNonNull(closedSinceTest, "closedSinceTest");
            photos = List.copyOf(photos);
        }
    }

    /**
     * A photograph by its name and digest.
     *
     * @param file name without a folder: it lies beside the sheet, or elsewhere in the shop
     * @param sha256 lower-case hex; empty where left open
     */
    public record Photo(String file, String sha256, String note) {
        public Photo {
            requireNonNull(file, "file");
            requireNonNull(sha256, "sha256");
            requireNonNull(note, "note");
        }
    }
}

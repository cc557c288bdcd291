// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.jobsheet;

import java.util.regex.Matcher;

/** A job sheet to fill in: every key there is, with what it is for, and nothing invented. */
public final class JobSheetTemplate {
    private static final String TICKET = "ticket:";

    private JobSheetTemplate() {}

    /** The template; without a ticket it is valid only once one is filled in. */
    public static String text(String ticketOrEmpty) {
        String quoted = ticketOrEmpty.isEmpty() ? "" : " '" + ticketOrEmpty.replace("'", "''") + "'";
        return TEXT.replaceFirst("(?m)^" + TICKET, Matcher.quoteReplacement(TICKET + quoted));
    }

    private static final String TEXT = """
            # Job sheet: what only the technician knows. Only format and ticket must be there. Anything else may stay empty or
            # commented out; the report prints it as open. To use a line that begins with #, take the # out.
            # Check it with: loadwitness-reporter job check FILE. Every key is explained in docs/job-sheet.md.
            # A text with a colon followed by a space, or one that begins with a sign such as [ or #, belongs in quotes.
            format: loadwitness-job-sheet/1

            # --- Who ---
            ticket: # the same for every attempt on this job: earlier attempts are found and counted by it
            shop:
            technician:
            #authorised-by: # who lets the report go out, if somebody else
            #warranty: # in your shop's words; printed as it is
            #earlier-report: # number of a report that this one follows or replaces

            # --- What came in ---
            customer: # a name or a number; printed
            #customer-reference: # the customer's own number for the job
            received: # year-month-day
            machine:
              make:
              model:
              serial:
            reported-fault: # in the customer's words, or yours
            condition-on-receipt: # damage, liquid, earlier repairs, missing screws, as seen before anything was done
            # How long it ran before each shut-off that somebody observed before the repair, as [.. min, .. min]: says how
            # long a clean run must be.
            #time-between-faults:

            # --- What was done; each a list, one line each with a dash in front ---
            findings:
            work-done:
            parts-replaced: # place, part, new or from where
            # graphics core, graphics memory, or both with a comma between them: a procedure can load a repaired rail longer.
            # Any other text is printed as it is.
            repaired-rail:
            #known-faults: # seen and left unrepaired

            # --- What feeds it ---
            # The graphics power that this machine was sold with (W): the mark against which "fully loaded" is measured.
            rated-graphics-power:
            rated-power-origin: # data sheet, box, dealer's page
            adapter-power: # W, as printed on the adapter used on the bench
            #adapter:
            #  label: # what is printed on it
            #  recognised: # yes or no: did the machine take it for one of full power?
            #  whose: # customer or bench
            #battery:
            #  label:
            #  condition: # swollen, worn, new
            #  whose: # customer or bench
            # A power meter between wall and adapter, read in the idle stage and in the longest soak, battery charged (W).
            wall-meter:
              idle:
              soak:

            # --- Measured by hand ---
            #ambient:
            #  temperature: # Cel, 30 cm from the intake
            #  how: # where the thermometer was, and which one
            #instruments:
            #  - name: # multimeter, thermometer, power meter
            #    serial:
            #    calibration: # when and by whom it was last checked, or that it was not
            # Voltage (V, mV) in the state named; resistance (mOhm, Ohm, kOhm, MOhm) and diode range (V) to ground, power off.
            # Low ohms are normal on a core rail: compare with a known-good board, not with a number.
            #rails:
            #  - name:
            #    kind: # fixed: one voltage whatever the load; controlled: set by the chip that it feeds
            #    nominal: # V
            #    tolerance: # % of nominal; without it a fixed rail is judged by the procedure's
            #    #least: # V, instead of a tolerance
            #    #most: # V
            #    #limits-origin: # where tolerance or limits are from
            #    state: # idle, loaded, standby or off
            #    resistance-before:
            #    diode-before:
            #    voltage-before:
            #    resistance-after:
            #    diode-after:
            #    voltage-after:
            #    voltage-uncertainty: # of the meter at this voltage, expanded (k = 2); 1.2 times a data sheet's plus-or-minus
            #    known-good: # the same of a board that is known to be good; for controlled rails
            #      resistance:
            #      diode:
            #      voltage:

            # After the run. done: yes or no; empty counts as not made. One that failed: add failed: yes. One that does not apply
            # to this machine: not-applicable: and the reason. Take out, rename and add as the machine needs it.
            hand-checks:
              - name: charging light
                done:
                #failed: # yes: it was tried and does not work
                #not-applicable: # why
                #note:
              - name: keyboard and touchpad
                done:
              - name: display with the integrated GPU
                done:
              - name: display with the discrete GPU
                done:
              - name: every external display port
                done:
              - name: USB ports
                done:
              - name: fans
                done:

            # --- How it left ---
            #seal: # number on the seal
            closed-since-test: # yes or no: tested closed, and not reopened since
            #photos: # kept by the shop; only the digest is printed
            #  - file: # a name, without a folder: beside this sheet
            #    sha256: # 'job check' prints it
            #    note:

            # A criterion that does not apply to this machine, with the reason, which is printed; docs/procedures.md lists them.
            not-applicable:
            """;
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.ProcedureException;
import dev.loadwitness.runlog.procedure.ProcedureReader;

/** The procedure and the job sheet that the simulated bench works by. */
final class SamplePapers {
    /** The shipped procedure for a GPU's power path, cut down to one soak so that a sample log stays small. */
    static final Attachment PROCEDURE = Attachment.of("gpu-soak-hour.yaml", """
            # For the sample runs: one hour of full load on the discrete GPU, sampled every two seconds so that a log stays
            # below 1.5 MB. On the bench use gpu-power-repair.yaml.
            format: loadwitness-procedure/1
            name: gpu-soak-hour
            title: One hour of full load on the discrete GPU

            sampling: 2 s # ours: keeps sample logs small; counters miss nothing in between

            stages:
              - id: idle
                duration: 30 s # ours
              - id: discrete-soak
                loads: [gpu-mix]
                gpu: gpu-discrete
                proves: gpu-discrete
                duration: 61 min # ours: the hour, and a minute for the edges
              - id: cool-down
                duration: 60 s # ours

            safety:
              stop-above:
                cpu: 105 Cel # ours
                gpu-discrete: 92 Cel # ours
                battery: 45 Cel # common practice
              silent-after: 10 s # ours
              adapter-lost: stop # ours
              unguarded: refuse # ours

            decision:
              rule: guarded # JCGM 106:2012
              guard-factor: 1 # ILAC-G8:09/2019, w = U

            criteria:
              soak-duration:
                mandatory: yes
                at-least: 60 min # common practice
                power-share: 85 % # common practice
              limit-withdrawn:
                mandatory: yes
                tolerance: 2 % # common practice
              interruptions:
                mandatory: yes
              temperature-ceiling:
                mandatory: yes
                margin: 5 K # common practice
                block: 60 s # ours
                ceiling: 90 Cel # common practice
                uncertainty: 2 K # common practice
              throttle:
                mandatory: yes
                at-most: 0
                at-most-time: 0 s
              clock-held:
                mandatory: yes
                at-least: 95 % # common practice
                window: 10 min # common practice
              compute-errors:
                mandatory: yes
                at-most: 0
              evidence:
                mandatory: yes
                coverage: 99 % # ours
                longest-gap: 10 s # ours
            """);

    static final Attachment JOB_SHEET = Attachment.of("FBR-2026-0142.yaml", """
            # Everything here is invented.
            format: loadwitness-job-sheet/1
            ticket: FBR-2026-0142
            shop: Fernhollow Board Repair
            technician: M. Okonjo-Vale
            customer: "1187"
            received: 2026-11-18
            machine:
              make: Alder Works
              model: AW-17 Kestrel
              serial: AWK17-004711
            reported-fault: Shuts off without warning after ten minutes to half an hour of gaming; cold when it happens.
            time-between-faults: [12 min, 25 min]
            work-done:
              - Shorted power stage PU3 on the graphics core rail replaced
              - Input capacitors PC41 and PC42 replaced
              - Heatsink refitted, new paste, new pads on memory and power stages
            repaired-rail: graphics core
            rated-graphics-power: 150 W # Corvid G7 150W
            adapter-power: 240 W
            rails:
              - name: graphics core
                resistance-before: 80 mOhm
                resistance-after: 0.4 Ohm
                voltage-after: 0.85 V
                state: loaded
            hand-checks:
              - name: keyboard and touchpad
                done: yes
              - name: wireless
                done: yes
            not-applicable:
            """);

    /** Every stage that a graphics rail can be judged by, each as short as its criteria allow. */
    static final Attachment RAILS_PROCEDURE = Attachment.of("gpu-rails-short.yaml", """
            # For the sample runs: ramp, soak and load steps in six minutes. No repair is certified by it.
            format: loadwitness-procedure/1
            name: gpu-rails-short
            title: Ramp, soak and load steps on the discrete GPU

            sampling: 2 s # ours: keeps sample logs small; counters miss nothing in between

            stages:
              - id: idle
                duration: 60 s # ours
              - id: ramp
                loads: [gpu-ramp]
                gpu: gpu-discrete
                duration: 75 s # ours: five levels of 15 s
              - id: discrete-soak
                loads: [gpu-mix]
                gpu: gpu-discrete
                proves: gpu-discrete
                duration: 150 s # ours
              - id: load-steps
                loads: [gpu-steps]
                gpu: gpu-discrete
                duration: 60 s # ours: five rates of 12 s
              - id: cool-down
                duration: 20 s # ours

            safety:
              stop-above:
                cpu: 105 Cel # ours
                gpu-discrete: 92 Cel # ours
                battery: 45 Cel # common practice
              silent-after: 10 s # ours
              adapter-lost: stop # ours
              unguarded: refuse # ours

            decision:
              rule: guarded # JCGM 106:2012
              guard-factor: 1 # ILAC-G8:09/2019, w = U

            criteria:
              soak-duration:
                mandatory: yes
                at-least: 2 min # ours
                power-share: 50 % # ours: so that power-held alone tells of a light load
              limit-withdrawn:
                mandatory: yes
              interruptions:
                mandatory: yes
              temperature-ceiling:
                mandatory: yes
              throttle:
                mandatory: yes
              power-held:
                mandatory: yes
              power-steady:
                mandatory: yes # ours: for show; on the bench it is advisory
              power-plausible:
                mandatory: yes
              energy-agrees:
                mandatory: yes # ours: for show; on the bench it is advisory
              ramp:
                mandatory: yes
              load-steps:
                mandatory: yes
              compute-errors:
                mandatory: yes
              hardware-errors:
                mandatory: yes
              evidence:
                mandatory: yes
            """);

    /** Battery, fans and devices in four and a half minutes. */
    static final Attachment PARTS_PROCEDURE = Attachment.of("gpu-parts-short.yaml", """
            # For the sample runs: battery, fans and devices in four and a half minutes. No repair is certified by it.
            format: loadwitness-procedure/1
            name: gpu-parts-short
            title: Battery, fans and devices while the discrete GPU is loaded

            sampling: 2 s # ours: keeps sample logs small; counters miss nothing in between

            stages:
              - id: idle
                duration: 60 s # ours
              - id: discrete-soak
                loads: [gpu-mix]
                gpu: gpu-discrete
                proves: gpu-discrete
                duration: 180 s # ours
              - id: cool-down
                duration: 20 s # ours

            safety:
              stop-above:
                cpu: 105 Cel # ours
                gpu-discrete: 92 Cel # ours
                battery: 45 Cel # common practice
              silent-after: 10 s # ours
              adapter-lost: stop # ours
              unguarded: refuse # ours

            decision:
              rule: guarded # JCGM 106:2012
              guard-factor: 1 # ILAC-G8:09/2019, w = U

            criteria:
              soak-duration:
                mandatory: yes
                at-least: 2 min # ours
              limit-withdrawn:
                mandatory: yes
              interruptions:
                mandatory: yes
              compute-errors:
                mandatory: yes
              charging:
                mandatory: yes
              fans:
                mandatory: yes
                hot: 60 Cel # ours: three minutes do not heat the machine through
              devices:
                mandatory: yes
              evidence:
                mandatory: yes
            """);

    /** Cold starts, fewer and shorter than on the bench. */
    static final Attachment COLD_STARTS_PROCEDURE = Attachment.of("cold-starts-short.yaml", """
            # For the sample runs: two of each kind of start. On the bench use cold-starts.yaml.
            format: loadwitness-procedure/1
            name: cold-starts-short
            title: Two replugs, two sleeps and two cold boots

            sampling: 2 s # ours: keeps sample logs small; counters miss nothing in between

            stages:
              - id: idle
                duration: 20 s # ours
              - id: replug
                asks: replug
                times: 2 # ours
                loads: [gpu-core]
                gpu: gpu-discrete
                proves: gpu-discrete
                duration: 30 s # ours
              - id: sleep
                asks: sleep
                times: 2 # ours
                loads: [gpu-core]
                gpu: gpu-discrete
                proves: gpu-discrete
                duration: 30 s # ours
              - id: cold-boot
                asks: power-off
                times: 2 # ours
                loads: [gpu-core]
                gpu: gpu-discrete
                proves: gpu-discrete
                duration: 60 s # ours

            safety:
              stop-above:
                cpu: 105 Cel # ours
                gpu-discrete: 92 Cel # ours
                battery: 45 Cel # common practice
              silent-after: 20 s # ours
              adapter-lost: stop # ours
              unguarded: refuse # ours

            decision:
              rule: guarded # JCGM 106:2012
              guard-factor: 1 # ILAC-G8:09/2019, w = U

            criteria:
              interruptions:
                mandatory: yes
              cold-starts:
                mandatory: yes
                boots: 2 # ours
                sleeps: 2 # ours
                replugs: 2 # ours
                within: 2 min # common practice
              compute-errors:
                mandatory: yes
              evidence:
                mandatory: yes
            """);

    /** Two soaks, each long enough for its end to be level. */
    static final Attachment REPEAT_PROCEDURE = Attachment.of("repeat-soak-short.yaml", """
            # For the sample runs: sampled every five seconds so that a log of two soaks stays small. On the bench use
            # repeat-soak.yaml.
            format: loadwitness-procedure/1
            name: repeat-soak-short
            title: Twenty-five minutes on the discrete GPU, and again from cold

            sampling: 5 s # ours

            stages:
              - id: idle
                duration: 30 s # ours
              - id: first-soak
                loads: [gpu-mix]
                gpu: gpu-discrete
                proves: gpu-discrete
                duration: 25 min # ours
              - id: second-soak
                asks: cool-down
                loads: [gpu-mix]
                gpu: gpu-discrete
                proves: gpu-discrete
                duration: 25 min # ours

            safety:
              stop-above:
                cpu: 105 Cel # ours
                gpu-discrete: 92 Cel # ours
                battery: 45 Cel # common practice
              silent-after: 20 s # ours
              adapter-lost: stop # ours
              unguarded: refuse # ours

            decision:
              rule: guarded # JCGM 106:2012
              guard-factor: 1 # ILAC-G8:09/2019, w = U

            criteria:
              soak-duration:
                mandatory: yes
                at-least: 20 min # ours
              interruptions:
                mandatory: yes
              temperature-ceiling:
                mandatory: yes
              repeat-soak:
                mandatory: yes
                at-most: 3 K # common practice
                cold-below: 45 Cel # common practice
                same-power: 5 % # common practice
              compute-errors:
                mandatory: yes
              evidence:
                mandatory: yes
            """);

    /** The job sheet with what a wall meter read. */
    static Attachment metered(int soakWatts) {
        return Attachment.of(
                JOB_SHEET.name(),
                JOB_SHEET
                        .text()
                        .replace(
                                "adapter-power: 240 W\n",
                                "adapter-power: 240 W\nwall-meter: {idle: 66 W, soak: " + soakWatts + " W}\n"));
    }

    private SamplePapers() {}

    static Procedure read(Attachment procedure) {
        try {
            return ProcedureReader.read(procedure.name(), procedure.text());
        } catch (ProcedureException e) {
            throw new IllegalArgumentException(e.getMessage(), e);
        }
    }
}

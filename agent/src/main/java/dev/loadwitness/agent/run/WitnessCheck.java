// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import dev.loadwitness.agent.sensor.SensorFact;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.procedure.Stage;
import java.util.List;

/**
 * Proves before each soak that wrong results and a silent sensor are noticed: both are planted, and must be caught as any
 * other would be.
 */
final class WitnessCheck {
    private final Run.Dropout dropout;
    private final Records records;
    private boolean planted;
    private boolean dropoutCaught;

    WitnessCheck(Run.Dropout dropout, Records records) {
        this.dropout = dropout;
        this.records = records;
    }

    void plant(List<Work> works) {
        works.forEach(Work::plant);
        dropoutCaught = false;
        dropout.source().plant();
        planted = true;
    }

    /** Whether all has been caught. */
    boolean caught(List<Work> works) {
        if (dropoutCaught) {
            dropout.source().lift();
        }
        return dropoutCaught && works.stream().allMatch(Work::plantCaught);
    }

    /** For people, what was not. */
    String missed() {
        return dropoutCaught ? "a planted wrong result was not caught" : "a planted silent sensor was not noticed";
    }

    /** Nothing is planted any more. */
    void lift() {
        planted = false;
        dropout.source().lift();
    }

    /** Writes what was caught and what was not. */
    void tell(Stage stage, List<Work> works) {
        for (Work work : works) {
            records.event(
                    EventKind.WITNESS_CHECK,
                    "check",
                    "planted-miscomputation",
                    "caught",
                    work.plantCaught(),
                    "stage",
                    stage.id(),
                    "load",
                    work.kind().word());
        }
        records.event(
                EventKind.WITNESS_CHECK,
                "check",
                "planted-dropout",
                "caught",
                dropoutCaught,
                "stage",
                stage.id(),
                "source",
                dropout.source().name(),
                "standIn",
                dropout.standIn());
    }

    /** Writes what a source did, and learns from it whether the planted silence was noticed. */
    void sensorFact(SensorFact fact) {
        boolean ofOurs = planted && fact.source().equals(dropout.source().name());
        fact.accept(new SensorFact.Handler<Void>() {
            @Override
            public Void silent(SensorFact.SourceSilent silent) {
                dropoutCaught |= ofOurs;
                records.event(
                        EventKind.SOURCE_SILENT,
                        "source",
                        silent.source(),
                        "detail",
                        silent.detail(),
                        "planted",
                        ofOurs);
                return null;
            }

            @Override
            public Void back(SensorFact.SourceBack back) {
                records.event(
                        EventKind.SOURCE_BACK,
                        "source",
                        back.source(),
                        "seconds",
                        back.after().toNanos() / 1e9);
                return null;
            }

            @Override
            public Void noticed(SensorFact.Noticed noticed) {
                records.event(noticed.kind(), noticed.facts());
                return null;
            }
        });
    }
}

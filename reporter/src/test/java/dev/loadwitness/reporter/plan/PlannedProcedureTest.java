// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.plan;

import static dev.loadwitness.runlog.procedure.Parameters.SoakDuration.AT_LEAST;
import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.ProcedureReader;
import dev.loadwitness.runlog.procedure.Stage;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.util.List;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.ValueSource;

final class PlannedProcedureTest {
    private static final Path SHIPPED = Path.of("..", "thresholds");
    private static final double HOUR = 3600;

    private static String shipped(String name) throws Exception {
        return Files.readString(SHIPPED.resolve(name));
    }

    @Test
    void onlyTheSoakGetsLongerAndEveryCommentStays() throws Exception {
        String before = shipped("gpu-power-repair.yaml");
        PlannedProcedure planned = PlannedProcedure.of("gpu-power-repair.yaml", before, 3 * HOUR, "95 %");
        Procedure old = ProcedureReader.read("before", before);
        assertThat(planned.procedure()
                        .setting(Criterion.SOAK_DURATION)
                        .orElseThrow()
                        .seconds(AT_LEAST))
                .isEqualTo(3 * HOUR);
        assertThat(stage(planned.procedure(), "discrete-mix").duration()).isEqualTo(Duration.ofMinutes(182));
        assertThat(planned.procedure().duration()).isEqualTo(old.duration().plusHours(2));
        assertThat(planned.procedure().name()).isEqualTo("gpu-power-repair-planned");
        assertThat(planned.procedure().title()).endsWith("(soak planned for 3 h)");
        List<String> lines = planned.text().lines().toList();
        List<String> was = before.lines().toList();
        assertThat(lines).hasSameSizeAs(was);
        for (int i = 0; i < lines.size(); i++) {
            String comment =
                    was.get(i).contains("#") ? was.get(i).substring(was.get(i).indexOf('#')) : "";
            assertThat(lines.get(i)).contains(comment);
        }
        assertThat(planned.text()).contains("at-least: 3 h # common practice; planned: 95 %, was 60 min");
    }

    @ParameterizedTest
    @ValueSource(
            strings = {
                "gpu-power-repair.yaml",
                "quick-check.yaml",
                "integrated-only.yaml",
                "charge-circuit.yaml",
                "repeat-soak.yaml"
            })
    void everyShippedProcedureWithASoakCanBePlannedAndIsStillValid(String name) throws Exception {
        PlannedProcedure planned = PlannedProcedure.of(name, shipped(name), 20 * HOUR, "95 %");
        assertThat(planned.procedure()
                        .setting(Criterion.SOAK_DURATION)
                        .orElseThrow()
                        .seconds(AT_LEAST))
                .isEqualTo(20 * HOUR);
        assertThat(planned.procedure().duration()).isGreaterThan(Duration.ofHours(20));
    }

    @Test
    void nothingIsMadeShorter() throws Exception {
        String before = shipped("gpu-power-repair.yaml");
        PlannedProcedure planned = PlannedProcedure.of("gpu-power-repair.yaml", before, 1440, "95 %");
        assertThat(planned.text()).isEqualTo(before);
        assertThat(planned.changes()).isEmpty();
    }

    @Test
    void carriageReturnsQuotesAndFlowStyleStay() throws Exception {
        String before = shipped("quick-check.yaml")
                .replace("duration: 60 s", "duration: \"60 s\"")
                .replace("\n", "\r\n");
        PlannedProcedure planned = PlannedProcedure.of("quick-check.yaml", before, HOUR, "95 %");
        assertThat(planned.text().replace("\r\n", "")).doesNotContain("\n", "\r");
        assertThat(planned.text()).contains("duration: \"3610 s\"");
    }

    @Test
    void procedureWithoutASoakIsRefused() {
        assertThatThrownBy(() -> PlannedProcedure.of("cold-starts.yaml", shipped("cold-starts.yaml"), HOUR, "95 %"))
                .isInstanceOf(PlannedProcedure.Refused.class)
                .hasMessageContaining("no criterion soak-duration");
    }

    private static Stage stage(Procedure procedure, String id) {
        return procedure.stages().stream()
                .filter(s -> s.id().equals(id))
                .findFirst()
                .orElseThrow();
    }
}

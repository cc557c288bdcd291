// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.baseline;

import dev.loadwitness.reporter.criteria.Figure;
import dev.loadwitness.reporter.criteria.MachineIdentity;
import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.runlog.Header;
import java.util.Collections;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;

/**
 * What one run tells of its model.
 *
 * @param begun UTC, as ISO 8601
 * @param machine digest, see {@link MachineIdentity}
 * @param procedure SHA-256 of the procedure's text
 * @param method version of the method that the figures were computed by
 * @param outcome of the verdict, as a word
 * @param figures by {@code stage: quantity, unit}, in order
 */
public record BaselineEntry(
        String runId,
        String begun,
        String machine,
        String model,
        String procedure,
        String method,
        boolean simulated,
        String outcome,
        Map<String, Double> figures) {
    public BaselineEntry {
        figures = Collections.unmodifiableMap(new LinkedHashMap<>(figures));
    }

    /**
     * The entry of a judged run.
     *
     * @throws UnfitRunException if its machine or model is not known, or it shows no figure
     */
    public static BaselineEntry of(Case run, String outcome, String method) throws UnfitRunException {
        Header header = run.scan().header();
        MachineIdentity identity = MachineIdentity.of(header);
        String machine = identity.digest()
                .orElseThrow(() -> new UnfitRunException("Run " + header.runId() + " cannot be told from runs of other"
                        + " machines: " + identity.why() + ". A band needs distinct machines; run without withholding"
                        + " the serial number."));
        if (identity.model().isEmpty()) {
            throw new UnfitRunException("Run " + header.runId() + " does not tell make and model of its machine.");
        }
        Map<String, Double> figures = new LinkedHashMap<>();
        List<String> stages = run.scan().stages().stream()
                .filter(StageTally::completed)
                .map(s -> s.stage().id())
                .distinct()
                .toList();
        for (String stage : stages) {
            for (Figure figure : Figure.ofStage(run, stage, machine)) {
                if (figure.quantity().ofTheModel()) {
                    String key = stage + ": " + figure.quantity().text() + ", "
                            + figure.quantity().unit();
                    figure.estimate().ifPresent(e -> figures.put(key, e.value()));
                }
            }
        }
        if (figures.isEmpty()) {
            throw new UnfitRunException("Run " + header.runId() + " shows no plateau, resistance, power, clock or work"
                    + " rate: no stage that loads a part was completed.");
        }
        return new BaselineEntry(
                header.runId(),
                header.utc().toString(),
                machine,
                identity.model(),
                header.procedure().sha256(),
                method,
                header.simulated(),
                outcome,
                figures);
    }

    boolean isLike(BaselineEntry other) {
        return model.equals(other.model)
                && procedure.equals(other.procedure)
                && method.equals(other.method)
                && simulated == other.simulated;
    }
}

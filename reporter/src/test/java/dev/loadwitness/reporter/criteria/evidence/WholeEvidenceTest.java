// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.evidence;

import static dev.loadwitness.reporter.scan.LogBuilder.facts;
import static java.nio.charset.StandardCharsets.UTF_8;
import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.security.MessageDigest;
import java.util.HexFormat;
import java.util.Map;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class WholeEvidenceTest {
    @TempDir
    Path folder;

    private static LogBuilder soak() {
        return LogBuilder.gpuSoak(270, "soak-duration", "mandatory: yes, at-least: 4 min");
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.EVIDENCE);
    }

    private void open(LogBuilder log, String because) throws IOException {
        Judgement judgement = Judged.of(folder, log);
        Finding f = judgement.verdict().findings().stream()
                .filter(x -> x.criterion() == Criterion.EVIDENCE)
                .findFirst()
                .orElseThrow();
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains(because);
        assertThat(judgement.verdict().outcome()).isNotEqualTo(Outcome.PASS);
    }

    @Test
    void aWholeClosedLogPasses() throws Exception {
        Finding f = judge(soak());
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("coverage 100.0 %");
        assertThat(Judged.of(folder, soak()).verdict().outcome()).isEqualTo(Outcome.PASS);
    }

    @Test
    void aLogThatWasNeverClosedIsInconclusive() throws Exception {
        open(soak().breaksOff(301), "never closed");
    }

    @Test
    void threeOfThreeHundredSamplesMayBeMissingAndFourMayNot() throws Exception {
        assertThat(judge(soak().sampledWhen(m -> m.seconds() % 100 != 50)).outcome())
                .isEqualTo(Outcome.PASS);
        open(soak().sampledWhen(m -> m.seconds() % 75 != 50), "98.7 % of the samples due");
    }

    @Test
    void aGapOfTenSecondsIsBearableAndOneOfElevenIsNot() throws Exception {
        LogBuilder log = soak().criterion("evidence", "mandatory: yes, coverage: 50 %, longest-gap: 10 s");
        assertThat(judge(log.sampledWhen(m -> m.seconds() <= 100 || m.seconds() >= 110))
                        .outcome())
                .isEqualTo(Outcome.PASS);
        open(
                log.sampledWhen(m -> m.seconds() <= 100 || m.seconds() >= 111),
                "For 11 s before 1:51 nothing was sampled.");
    }

    @Test
    void samplesThatEndLongBeforeTheLogDoesAreAGap() throws Exception {
        open(soak().sampledWhen(m -> m.seconds() <= 250), "nothing was sampled");
    }

    @Test
    void samplesThatBeginLongAfterTheLogDoesAreAGap() throws Exception {
        open(soak().sampledWhen(m -> m.seconds() >= 25), "nothing was sampled");
    }

    @Test
    void aPlantedFaultThatWasNotCaughtIsInconclusive() throws Exception {
        open(soak().witnessChecks(2, false), "a planted fault was not caught");
    }

    @Test
    void aSoakBeforeWhichNothingWasPlantedIsInconclusive() throws Exception {
        open(soak().witnessChecks(0, true), "did not prove that it can see");
        open(soak().witnessChecks(1, true), "did not prove that it can see");
    }

    @Test
    void aWitnessThatStoodStillIsInconclusive() throws Exception {
        open(
                soak().event(100, EventKind.WITNESS_STALLED, facts("seconds", 20.0, "detail", "disk")),
                "stood still for 20 s at 1:40");
    }

    @Test
    void samplesThatWereDroppedAreInconclusive() throws Exception {
        open(soak().event(100, EventKind.SAMPLES_DROPPED, Map.of("count", 7.0)), "7 samples could not be kept");
    }

    @Test
    void recordsThatWereLeftBehindOnResumingAreInconclusive() throws Exception {
        open(
                soak().event(
                                100,
                                EventKind.RECORDS_LEFT_BEHIND,
                                Map.of("count", 4.0, "damage", "nul-bytes", "place", "line 23")),
                "4 records behind spoilt bytes (nul-bytes at line 23) were left behind");
    }

    @Test
    void aStageThatDidNotRunToItsEndIsInconclusive() throws Exception {
        open(soak().stops(200, CloseReason.OPERATOR_STOP, ""), "1 of 2 stages ran to its end.");
    }

    @Test
    void aGpuLoadThatRanOnSomethingElseIsInconclusive() throws Exception {
        Map<String, Object> onCpu =
                Map.of("load", "gpu-mix", "role", "gpu-discrete", "device", "a CPU", "standIn", true);
        open(soak().event(20, EventKind.LOAD_BEGIN, onCpu), "ran on a CPU, which is no GPU");
    }

    @Test
    void aStageThatMayBeLeftOutAndWasIsNoHoleAndOneThatMayNotIs() throws Exception {
        String optional = "loads: [gpu-mix], gpu: gpu-discrete, if-present: yes";
        assertThat(judge(soak().neverRun("extra", optional)
                                .event(1, EventKind.STAGE_LEFT_OUT, Map.of("stage", "extra", "why", "no such GPU")))
                        .outcome())
                .isEqualTo(Outcome.PASS);
        open(soak().neverRun("extra", optional), "stages");
        open(
                soak().neverRun("extra", "loads: [cpu]")
                        .event(1, EventKind.STAGE_LEFT_OUT, Map.of("stage", "extra", "why", "no such GPU")),
                "stages");
    }

    @Test
    void anEditedDigitIsInconclusiveAndTheSentenceSaysSoFirst() throws Exception {
        Path log = soak().write(folder);
        String text = Files.readString(log, UTF_8);
        Files.writeString(log, text.replaceFirst("\"v\":\\[73", "\"v\":[63"), UTF_8);
        Judgement judgement = Judge.judge(Judge.Request.of(log));
        assertThat(judgement.damaged()).isTrue();
        assertThat(judgement.verdict().outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(judgement.verdict().sentence()).startsWith("The log is damaged or was altered, first at line ");
    }

    @Test
    void anUnknownRecordThatMustBeUnderstoodIsInconclusiveAndOneThatNeedNotIsNot() throws Exception {
        assertThat(withUnknownRecord("true").outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(withUnknownRecord("true").because()).contains("must be understood");
        assertThat(withUnknownRecord("false").outcome()).isEqualTo(Outcome.PASS);
    }

    /** Chained by hand, before the close, as a newer agent would write it. */
    private Finding withUnknownRecord(String must) throws Exception {
        Path log = soak().write(folder);
        String[] lines = Files.readString(log, UTF_8).split("\n", -1);
        int close = lines.length - 2;
        String before = chainOf(lines[close - 1]);
        String added = chained("{\"n\":" + close + ",\"type\":\"seal\",\"must\":" + must, before);
        String last = lines[close]
                .substring(0, lines[close].length() - 76)
                .replaceFirst("\"n\":" + close, "\"n\":" + (close + 1));
        lines[close] = added + "\n" + chained(last, chainOf(added));
        Files.writeString(log, String.join("\n", lines), UTF_8);
        return Judge.judge(Judge.Request.of(log)).verdict().findings().stream()
                .filter(f -> f.criterion() == Criterion.EVIDENCE)
                .findFirst()
                .orElseThrow();
    }

    private static String chainOf(String line) {
        return line.substring(line.length() - 66, line.length() - 2);
    }

    private static String chained(String body, String before) throws Exception {
        byte[] digest = MessageDigest.getInstance("SHA-256").digest((before + body).getBytes(UTF_8));
        return body + ",\"chain\":\"" + HexFormat.of().formatHex(digest) + "\"}";
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.verdict;

import static java.nio.charset.StandardCharsets.ISO_8859_1;
import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.file.line.Damage;
import dev.loadwitness.runlog.file.line.Place;
import dev.loadwitness.runlog.file.read.LogVisitor;
import dev.loadwitness.runlog.file.read.ReadSummary;
import dev.loadwitness.runlog.file.read.RunLogReader;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.Arrays;
import java.util.HashMap;
import java.util.List;
import java.util.Map;
import java.util.Random;
import java.util.Set;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/**
 * A log that a crash cut off, anywhere. It is always readable, and says what it said up to its last whole record: what
 * is missing can only open what would have been decided later, and a cut by itself never fails a machine.
 */
class CutLogTest {
    private static final int RANDOM_PLACES = 5_000; // for each of two logs

    /** Every place is read; judging takes ten times as long, so while one works only some are. 1 judges all, as ./check does. */
    private static final int JUDGED_EVERY = Integer.getInteger("loadwitness.judged-every", 25);

    /** What is judged from the end of the log. All else is judged from what was sampled. */
    private static final Set<Criterion> OF_THE_END = Set.of(Criterion.INTERRUPTIONS, Criterion.EVIDENCE);

    private static final LogVisitor NOTHING = new LogVisitor() {
        @Override
        public void record(LogRecord record, Place place) {}

        @Override
        public void damage(Damage damage) {}
    };

    @TempDir
    Path folder;

    private Path cut;
    private final Map<Integer, Verdict> whole = new HashMap<>();
    private final Map<Integer, ReadSummary> read = new HashMap<>();

    private static LogBuilder log() {
        return LogBuilder.gpuSoak(25, "soak-duration", "mandatory: yes, at-least: 20 s")
                .criterion("interruptions", "mandatory: yes")
                .criterion("temperature-ceiling", "mandatory: yes, block: 5 s")
                .criterion("throttle", "mandatory: yes")
                .criterion("compute-errors", "mandatory: yes");
    }

    private static LogBuilder died() {
        return log().evidence(Map.of("same-boot", "no", "system-log", "none", "crash-store", "empty"));
    }

    @BeforeEach
    void aFileToCut() throws IOException {
        cut = Files.createDirectory(folder.resolve("cut")).resolve("run.jsonl");
    }

    private Verdict judge(byte[] bytes, int length) throws IOException {
        Files.write(cut, Arrays.copyOf(bytes, length));
        return Judge.judge(Judge.Request.of(cut)).verdict();
    }

    /** The place behind the last whole record: its line feed may be missing. */
    private static int wholeEnd(byte[] bytes, int length) {
        if (length < bytes.length && bytes[length] == '\n') {
            return length + 1;
        }
        int end = length;
        while (end > 0 && bytes[end - 1] != '\n') {
            end--;
        }
        return end;
    }

    private static int headerEnd(byte[] bytes) {
        int end = 0;
        while (bytes[end] != '\n') {
            end++;
        }
        return end + 1;
    }

    private static int startOfLastTwo(byte[] bytes) {
        int feeds = 0;
        int at = bytes.length;
        while (feeds < 3) {
            at--;
            feeds += bytes[at] == '\n' ? 1 : 0;
        }
        return at + 1;
    }

    private static List<Finding> ofSamples(Verdict verdict) {
        return verdict.findings().stream()
                .filter(f -> !OF_THE_END.contains(f.criterion()))
                .toList();
    }

    private ReadSummary read(byte[] bytes, int length) throws IOException {
        Files.write(cut, Arrays.copyOf(bytes, length));
        return RunLogReader.read(cut, NOTHING);
    }

    /** The same records up to the same link of the chain, and nothing but a torn tail behind them. */
    private void isReadable(byte[] bytes, int length) throws IOException {
        int end = wholeEnd(bytes, length);
        ReadSummary expected = read.get(end);
        if (expected == null) {
            expected = read(bytes, end);
            read.put(end, expected);
        }
        ReadSummary cutOff = read(bytes, length);
        assertThat(cutOff.whole()).as("cut at byte %d", length).isTrue();
        assertThat(cutOff.records()).as("cut at byte %d", length).isEqualTo(expected.records());
        assertThat(cutOff.lastChain()).as("cut at byte %d", length).isEqualTo(expected.lastChain());
        assertThat(cutOff.closed()).as("cut at byte %d", length).isEqualTo(expected.closed());
    }

    private Verdict upToTheLastWholeRecord(byte[] bytes, int length) throws IOException {
        int end = wholeEnd(bytes, length);
        Verdict known = whole.get(end);
        if (known == null) {
            known = judge(bytes, end);
            whole.put(end, known);
        }
        return known;
    }

    private Verdict sameAsUpToTheLastWholeRecord(byte[] bytes, int length) throws IOException {
        Verdict expected = upToTheLastWholeRecord(bytes, length);
        Verdict verdict = judge(bytes, length);
        assertThat(verdict.outcome()).as("cut at byte %d", length).isEqualTo(expected.outcome());
        assertThat(verdict.sentence()).as("cut at byte %d", length).isEqualTo(expected.sentence());
        assertThat(verdict.findings()).as("cut at byte %d", length).isEqualTo(expected.findings());
        return verdict;
    }

    @Test
    void aPassingLogCutInItsLastTwoRecordsOnlyLosesWhatItsEndShows() throws Exception {
        byte[] bytes = Files.readAllBytes(log().write(folder));
        Verdict full = judge(bytes, bytes.length);
        assertThat(full.outcome()).isEqualTo(Outcome.PASS);
        for (int length = startOfLastTwo(bytes); length < bytes.length - 1; length++) {
            Verdict verdict = sameAsUpToTheLastWholeRecord(bytes, length);
            assertThat(verdict.outcome()).as("cut at byte %d", length).isEqualTo(Outcome.INCONCLUSIVE);
            assertThat(ofSamples(verdict)).as("cut at byte %d", length).isEqualTo(ofSamples(full));
        }
        assertThat(judge(bytes, bytes.length - 1).outcome())
                .as("only the last line feed is missing")
                .isEqualTo(Outcome.PASS);
    }

    @Test
    void aRunThatDiedAndWentOnCutInItsLastTwoRecordsStillFailsAsItDid() throws Exception {
        byte[] bytes = Files.readAllBytes(died().resumes(45, "boot-1").write(folder));
        Verdict full = judge(bytes, bytes.length);
        assertThat(full.outcome()).isEqualTo(Outcome.FAIL);
        for (int length = startOfLastTwo(bytes); length < bytes.length; length++) {
            Verdict verdict = sameAsUpToTheLastWholeRecord(bytes, length);
            assertThat(verdict.outcome()).as("cut at byte %d", length).isEqualTo(Outcome.FAIL);
            assertThat(verdict.sentence()).as("cut at byte %d", length).isEqualTo(full.sentence());
            assertThat(ofSamples(verdict)).as("cut at byte %d", length).isEqualTo(ofSamples(full));
        }
    }

    @Test
    void aPassingLogCutAnywhereNeitherPassesNorFails() throws Exception {
        byte[] bytes = Files.readAllBytes(log().write(folder));
        long seed = System.nanoTime();
        System.out.println("CutLogTest, passing log: seed " + seed);
        Random random = new Random(seed);
        int header = headerEnd(bytes);
        for (int i = 0; i < RANDOM_PLACES; i++) {
            int length = header + random.nextInt(bytes.length - 1 - header);
            isReadable(bytes, length);
            if (i % JUDGED_EVERY != 0) {
                continue;
            }
            Verdict verdict = sameAsUpToTheLastWholeRecord(bytes, length);
            assertThat(verdict.outcome())
                    .as("seed %d, cut at byte %d", seed, length)
                    .isEqualTo(Outcome.INCONCLUSIVE);
            assertThat(verdict.findings())
                    .as("seed %d, cut at byte %d", seed, length)
                    .noneMatch(f -> f.outcome() == Outcome.FAIL);
        }
    }

    /** Once the next boot has signed on, the death is on record, whatever is cut off after it. */
    @Test
    void aRunThatDiedAndWentOnCutAnywhereFailsFromItsNextBootOn() throws Exception {
        byte[] bytes = Files.readAllBytes(died().resumes(45, "boot-1").write(folder));
        int nextBoot = new String(bytes, ISO_8859_1).lastIndexOf("\"type\":\"boot\",");
        int signedOn = wholeEnd(bytes, nextBoot);
        while (bytes[signedOn] != '\n') {
            signedOn++;
        }
        long seed = System.nanoTime();
        System.out.println("CutLogTest, log of a machine that died: seed " + seed);
        Random random = new Random(seed);
        int header = headerEnd(bytes);
        for (int i = 0; i < RANDOM_PLACES; i++) {
            int length = header + random.nextInt(bytes.length - header);
            isReadable(bytes, length);
            if (i % JUDGED_EVERY != 0) {
                continue;
            }
            Verdict verdict = sameAsUpToTheLastWholeRecord(bytes, length);
            assertThat(verdict.outcome())
                    .as("seed %d, cut at byte %d", seed, length)
                    .isEqualTo(length >= signedOn ? Outcome.FAIL : Outcome.INCONCLUSIVE);
        }
    }
}

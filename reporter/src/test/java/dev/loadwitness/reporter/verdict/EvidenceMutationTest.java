// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.verdict;

import static java.nio.charset.StandardCharsets.ISO_8859_1;
import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/** Whatever happens to a record of a passing log, the log no longer passes, and the judge gives an answer. */
class EvidenceMutationTest {
    @TempDir
    Path folder;

    private Path log;
    private List<String> lines;

    @BeforeEach
    void aPassingLog() throws Exception {
        log = LogBuilder.gpuSoak(90, "soak-duration", "mandatory: yes, at-least: 80 s")
                .criterion("interruptions", "mandatory: yes")
                .criterion("limit-withdrawn", "mandatory: yes")
                .criterion("temperature-ceiling", "mandatory: yes")
                .criterion("throttle", "mandatory: yes")
                .criterion("compute-errors", "mandatory: yes")
                .write(folder);
        lines = List.of(Files.readString(log, ISO_8859_1).split("(?<=\n)", -1)).stream()
                .filter(line -> !line.isEmpty())
                .toList();
        assertThat(lines).hasSizeGreaterThan(120);
        assertThat(judge(lines)).isEqualTo("PASS");
    }

    /** The outcome; or, where the header itself is not readable any more, that the file was refused. */
    private String judge(List<String> changed) throws IOException {
        Files.writeString(log, String.join("", changed), ISO_8859_1);
        try {
            return Judge.judge(Judge.Request.of(log)).verdict().outcome().name();
        } catch (IOException e) {
            boolean headerIsWhole = !changed.isEmpty() && changed.get(0).equals(lines.get(0));
            if (headerIsWhole || e.getMessage().isBlank()) {
                throw e;
            }
            return "refused";
        }
    }

    private void neverPasses(List<String> changed, String what) throws IOException {
        assertThat(judge(changed)).as(what).isNotEqualTo(Outcome.PASS.name());
    }

    @Test
    void noRecordCanBeDropped() throws Exception {
        for (int i = 0; i < lines.size(); i++) {
            List<String> changed = new ArrayList<>(lines);
            changed.remove(i);
            neverPasses(changed, "without line " + (i + 1));
        }
    }

    @Test
    void noRecordCanBeAltered() throws Exception {
        for (int i = 0; i < lines.size(); i++) {
            String line = lines.get(i);
            int at = line.length() / 2;
            while (!Character.isDigit(line.charAt(at))) {
                at++;
            }
            neverPasses(withOtherDigit(i, at), "line " + (i + 1) + " altered at " + at);
        }
    }

    @Test
    void noDigitOfARecordThatIsNoSampleCanBeAltered() throws Exception {
        for (int i = 0; i < lines.size(); i++) {
            String line = lines.get(i);
            for (int at = 0; at < line.length() && !line.contains("\"type\":\"sample\""); at++) {
                if (Character.isDigit(line.charAt(at))) {
                    neverPasses(withOtherDigit(i, at), "line " + (i + 1) + " altered at " + at);
                }
            }
        }
    }

    private List<String> withOtherDigit(int i, int at) {
        List<String> changed = new ArrayList<>(lines);
        String line = lines.get(i);
        char other = line.charAt(at) == '9' ? '0' : (char) (line.charAt(at) + 1);
        changed.set(i, line.substring(0, at) + other + line.substring(at + 1));
        return changed;
    }

    @Test
    void noRecordCanBeMovedByOnePlace() throws Exception {
        for (int i = 0; i + 1 < lines.size(); i++) {
            List<String> changed = new ArrayList<>(lines);
            changed.add(i + 1, changed.remove(i));
            neverPasses(changed, "line " + (i + 1) + " moved");
        }
    }

    @Test
    void noRecordCanBeRepeated() throws Exception {
        for (int i = 0; i < lines.size(); i++) {
            List<String> changed = new ArrayList<>(lines);
            changed.add(i, lines.get(i));
            neverPasses(changed, "line " + (i + 1) + " twice");
        }
    }

    /** The chain of what is left is sound: only the missing close tells. */
    @Test
    void theLogCannotBeCutAtARecord() throws Exception {
        for (int i = 0; i < lines.size(); i++) {
            neverPasses(lines.subList(0, i), "first " + i + " lines");
        }
    }

    @Test
    void theLogCannotBeCutInsideARecord() throws Exception {
        for (int i = 0; i < lines.size(); i++) {
            List<String> changed = new ArrayList<>(lines.subList(0, i + 1));
            changed.set(i, lines.get(i).substring(0, lines.get(i).length() / 2));
            neverPasses(changed, "half of line " + (i + 1));
        }
    }

    /** Only the line feed of the close is gone: a whole record that lacks nothing that was said. */
    @Test
    void aCloseWithoutItsLineFeedIsStillAClose() throws Exception {
        List<String> changed = new ArrayList<>(lines);
        changed.set(lines.size() - 1, lines.get(lines.size() - 1).stripTrailing());
        assertThat(judge(changed)).isEqualTo("PASS");
    }
}

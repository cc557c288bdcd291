// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.pdf.chart.Course;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.runlog.EventKind;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Instant;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/** A log may say in a line of a mebibyte what takes a word elsewhere. */
final class LongTextsTest {
    private static final int SHORT = 1_500;
    private static final int LONG = 10 * SHORT;

    @TempDir
    private Path folder;

    /** Measuring what fits used to begin anew for each letter: a ticket of 30,000 took the bench minutes. */
    @Test
    void pagesOfLongTextsTakeNoLongerThanTheirLettersDo() throws IOException {
        pages("first", SHORT);
        long shorter = nanos("short", SHORT);
        long longer = nanos("long", LONG);

        assertThat(longer / shorter)
                .as("times as long for 10 times the letters")
                .isLessThan(25);
    }

    private long nanos(String name, int letters) throws IOException {
        long begin = System.nanoTime();
        pages(name, letters);
        return System.nanoTime() - begin;
    }

    private void pages(String name, int letters) throws IOException {
        String text = "a".repeat(letters);
        Path log = LogBuilder.gpuSoak(90, "soak-duration", "mandatory: yes, at-least: 80 s")
                .ticket(text)
                .describe("gpu.power", c -> c.withComponent(text, text))
                .event(60, EventKind.OPERATOR_NOTE, LogBuilder.facts("text", text))
                .write(Files.createDirectory(folder.resolve(name)));
        Judgement judged = Judge.judge(Judge.Request.of(log));
        assertThat(ReportPdf.write(
                        judged.verdict(),
                        Course.of(judged.scan()),
                        ReportOptions.issuedAt(Instant.parse("2026-11-25T12:00:00Z"))))
                .isNotEmpty();
    }
}

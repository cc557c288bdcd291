// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import static java.nio.charset.StandardCharsets.UTF_8;
import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.command.Sysexits;
import java.io.ByteArrayOutputStream;
import java.io.PrintStream;
import java.io.PrintWriter;
import java.io.RandomAccessFile;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.function.Function;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import picocli.CommandLine;
import picocli.CommandLine.Model.CommandSpec;

/**
 * What nobody foresaw ends with a sentence and a status above 63. Java itself would end with 1, which says that the machine
 * failed. {@code checks/limits.py} has the large inputs.
 */
class UnforeseenEndsTest {
    private static final int MUCH = 64 << 20;

    /** The program with one more command, which does that. */
    private static Said when(Runnable happens) {
        return said(err -> Main.commands(err)
                .addSubcommand("happen", new CommandLine(CommandSpec.wrapWithoutInspection(happens)).setErr(err)));
    }

    private static Said said(Function<PrintWriter, CommandLine> commands) {
        PrintStream before = System.err;
        ByteArrayOutputStream told = new ByteArrayOutputStream();
        try {
            System.setErr(new PrintStream(told, true, UTF_8));
            int status = Main.REPORTER.run(commands, "happen");
            return new Said(status, told.toString(UTF_8));
        } finally {
            System.setErr(before);
        }
    }

    private static int deep(int depth) {
        return depth < 0 ? 0 : 1 + deep(depth + 1); // no stack is two thousand million calls deep
    }

    @Test
    void aCommandThatRunsOutOfMemoryDecidesNothing() {
        List<long[]> hoard = new ArrayList<>();
        Said said = when(() -> hoard.add(new long[Integer.MAX_VALUE])); // 16 GiB, and longer than any array can be
        assertThat(said.status()).isEqualTo(Sysexits.SOFTWARE);
        assertThat(said.text())
                .startsWith("Out of memory: this takes more than the heap of ")
                .contains("'java -Xmx512m -jar ...'", "Nothing was decided.")
                .doesNotContain("\tat ");
    }

    @Test
    void aCommandThatRunsOutOfStackDecidesNothing() {
        Said said = when(() -> deep(0));
        assertThat(said.status()).isEqualTo(Sysexits.SOFTWARE);
        assertThat(said.text())
                .startsWith("This is a defect of the reporter; please report it")
                .contains("Nothing was decided.", "StackOverflowError", "UnforeseenEndsTest.deep");
    }

    @Test
    void aCommandThatThrowsWhatNobodyDeclaredDecidesNothing() {
        Said said = when(() -> {
            throw new IllegalStateException("not foreseen");
        });
        assertThat(said.status()).isEqualTo(Sysexits.SOFTWARE);
        assertThat(said.text())
                .startsWith("This is a defect of the reporter; please report it")
                .contains("Nothing was decided.", "IllegalStateException: not foreseen");
    }

    @Test
    void commandsThatCannotEvenBeMadeDecideNothing() {
        Said said = said(err -> {
            throw new ExceptionInInitializerError("planted");
        });
        assertThat(said.status()).isEqualTo(Sysexits.SOFTWARE);
        assertThat(said.text()).contains("This is a defect of the reporter", "ExceptionInInitializerError: planted");
    }

    /** A process of its own, whose heap cannot hold a report of a size that {@code verify} reads. */
    @Test
    void theProcessItselfEndsWithThatStatusWhenAReportIsLargerThanItsHeap(@TempDir Path folder) throws Exception {
        Path report = folder.resolve("report.pdf");
        try (RandomAccessFile large = new RandomAccessFile(report.toFile(), "rw")) {
            large.write("%PDF-1.7\n".getBytes(UTF_8));
            large.setLength(MUCH);
        }
        Process process = new ProcessBuilder(
                        Path.of(System.getProperty("java.home"), "bin", "java").toString(),
                        "-Xmx24m",
                        "-XX:TieredStopAtLevel=1",
                        "-cp",
                        System.getProperty("surefire.test.class.path", System.getProperty("java.class.path")),
                        Main.class.getName(),
                        "verify",
                        report.toString())
                .redirectErrorStream(true)
                .start();
        String said = new String(process.getInputStream().readAllBytes(), UTF_8);
        assertThat(process.waitFor()).as(said).isEqualTo(Sysexits.SOFTWARE);
        assertThat(said)
                .startsWith("Out of memory: this takes more than the heap of 24 MiB")
                .contains("Nothing was decided.");
    }
}

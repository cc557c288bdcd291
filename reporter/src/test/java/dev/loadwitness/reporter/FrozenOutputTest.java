// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.simulation.FrozenLogs;
import java.io.ByteArrayOutputStream;
import java.io.IOException;
import java.io.PrintStream;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.nio.file.StandardCopyOption;
import java.security.MessageDigest;
import java.security.NoSuchAlgorithmException;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.HexFormat;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Random;
import java.util.TreeMap;
import java.util.stream.Stream;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import picocli.CommandLine;

/**
 * What the reporter prints today is what it printed when it was frozen: every sample run, simulated, cut and damaged logs,
 * as verdict, screen, table, report and review page, and every help text. It holds nothing for right, only for
 * unchanged; a change of wording or judgement is frozen anew, in a commit that says which lines changed and why:
 *
 * <pre>{@code mvn -q -pl runlog,reporter test -Dtest=FrozenOutputTest -Dloadwitness.rewrite=true}</pre>
 *
 * <p>To see a difference rather than a digest, give {@code -Dloadwitness.keep=DIR} here and at an older commit, and compare
 * the two folders.
 */
final class FrozenOutputTest {
    private static final Path FROZEN = Path.of("src", "test", "resources", "frozen", "reporter.txt");
    private static final Path SAMPLES = Path.of("..", "sample-runs");
    private static final int CUTS = 20;
    private static final int FLIPS = 12;

    /** Where each kind of record stands in every way it can: an hour, an early end, restarts, a real GPU, guided stages. */
    private static final List<String> SPOILT = List.of(
            "clean-pass", "kernel-crash", "restart-loop", "cold-starts-pass", "rails-pass", "real-gpu-worker-killed");

    @TempDir
    private static Path folder;

    @Test
    void everythingPrintedIsAsItWasFrozen() throws Exception {
        Path now = folder.resolve("now.txt");
        ProcessBuilder program = new ProcessBuilder(
                Path.of(System.getProperty("java.home"), "bin", "java").toString(),
                "-Dloadwitness.keep=" + System.getProperty("loadwitness.keep", ""),
                "-cp",
                System.getProperty("java.class.path"),
                FrozenOutputTest.class.getName(),
                folder.toString(),
                now.toString());
        program.environment().put("SOURCE_DATE_EPOCH", "1795000000");
        assertThat(program.inheritIO().start().waitFor()).isZero();
        if (Boolean.getBoolean("loadwitness.rewrite")) {
            Files.copy(now, FROZEN, StandardCopyOption.REPLACE_EXISTING);
        }
        assertThat(Files.readAllLines(now, StandardCharsets.UTF_8))
                .containsExactlyElementsOf(Files.readAllLines(FROZEN, StandardCharsets.UTF_8));
    }

    /** All of it, in one process whose reports are all issued at the same time: {@code FOLDER RESULT}. */
    public static void main(String[] arguments) throws IOException {
        Locale.setDefault(Locale.ROOT);
        folder = Path.of(arguments[0]);
        Map<String, String> now = new TreeMap<>();
        sampleRuns(now);
        simulatedRuns(now);
        spoiltLogs(now);
        helpTexts(Main.commands(), now);
        List<String> lines = now.entrySet().stream()
                .map(entry -> entry.getKey() + " " + entry.getValue())
                .toList();
        Files.write(Path.of(arguments[1]), lines, StandardCharsets.UTF_8);
    }

    private static void sampleRuns(Map<String, String> now) throws IOException {
        try (Stream<Path> files = Files.walk(SAMPLES)) {
            for (Path log : files.filter(f -> f.endsWith("run.jsonl")).sorted().toList()) {
                String name = SAMPLES.relativize(log.getParent()).toString();
                everyForm("sample/" + name, log, now);
            }
        }
        Path attempts = SAMPLES.resolve("three-attempts");
        everyForm(
                "sample/three-attempts/together",
                attempts.resolve("3/run.jsonl"),
                now,
                "--earlier",
                attempts.resolve("1/run.jsonl").toString(),
                "--earlier",
                attempts.resolve("2/run.jsonl").toString());
    }

    private static void simulatedRuns(Map<String, String> now) throws IOException {
        for (var log : FrozenLogs.write(Files.createDirectory(folder.resolve("simulated")))
                .entrySet()) {
            keep(now, "simulated/" + log.getKey() + " log", Files.readAllBytes(log.getValue()), "");
            printed(
                    now,
                    "simulated/" + log.getKey() + " json",
                    "judge",
                    log.getValue().toString(),
                    "--json");
            printed(
                    now,
                    "simulated/" + log.getKey() + " all",
                    "judge",
                    log.getValue().toString(),
                    "--all");
        }
    }

    private static void spoiltLogs(Map<String, String> now) throws IOException {
        for (String sample : SPOILT) {
            byte[] whole = Files.readAllBytes(SAMPLES.resolve(sample).resolve("run.jsonl"));
            Random random = new Random(sample.hashCode());
            for (int i = 0; i < CUTS; i++) {
                spoilt("cut/" + sample + "/" + i, Arrays.copyOf(whole, random.nextInt(whole.length)), now);
            }
            for (int i = 0; i < FLIPS; i++) {
                byte[] bytes = whole.clone();
                bytes[random.nextInt(bytes.length)] ^= (byte) (1 << random.nextInt(8));
                spoilt("flipped/" + sample + "/" + i, bytes, now);
            }
        }
    }

    private static void spoilt(String name, byte[] bytes, Map<String, String> now) throws IOException {
        Path log = Files.createDirectories(folder.resolve(name)).resolve("run.jsonl");
        Files.write(log, bytes);
        printed(now, name + " json", "judge", log.toString(), "--json");
        printed(now, name + " screen", "judge", log.toString());
    }

    private static void everyForm(String name, Path log, Map<String, String> now, String... more) throws IOException {
        printed(now, name + " json", with(more, "judge", log.toString(), "--json"));
        printed(now, name + " screen", with(more, "judge", log.toString()));
        printed(now, name + " all", with(more, "judge", log.toString(), "--all"));
        Path place = Files.createDirectories(folder.resolve(name));
        Path report = place.resolve("report.pdf");
        printed(
                now,
                name + " certify",
                with(more, "certify", log.toString(), "--unsigned", "--out", report.toString()));
        keep(now, name + " pdf", Files.readAllBytes(report), "");
        Path page = place.resolve("review.html");
        printed(now, name + " review", with(more, "review", log.toString(), "--out", page.toString()));
        keep(now, name + " page", Files.readAllBytes(page), "");
    }

    private static String[] with(String[] more, String... first) {
        List<String> all = new ArrayList<>(List.of(first));
        all.addAll(List.of(more));
        return all.toArray(String[]::new);
    }

    private static void helpTexts(CommandLine command, Map<String, String> now) throws IOException {
        String name = command.getCommandSpec().qualifiedName(" ");
        List<String> words = new ArrayList<>(List.of(name.split(" ")));
        words.remove(0);
        words.add("--help");
        printed(now, "help/" + name.replace(' ', '/') + " text", words.toArray(String[]::new));
        for (CommandLine inner : command.getSubcommands().values()) {
            helpTexts(inner, now);
        }
    }

    /** Runs a command and keeps what it says, less the temporary folder's name, and its exit status. */
    private static void printed(Map<String, String> now, String what, String... arguments) throws IOException {
        PrintStream out = System.out;
        PrintStream err = System.err;
        ByteArrayOutputStream said = new ByteArrayOutputStream();
        int status;
        try (PrintStream stream = new PrintStream(said, true, StandardCharsets.UTF_8)) {
            System.setOut(stream);
            System.setErr(stream);
            status = Main.run(arguments);
        } finally {
            System.setOut(out);
            System.setErr(err);
        }
        String text = said.toString(StandardCharsets.UTF_8).replace(folder.toString(), "FOLDER");
        keep(now, what, text.getBytes(StandardCharsets.UTF_8), " exit " + status);
    }

    private static void keep(Map<String, String> now, String what, byte[] bytes, String more) throws IOException {
        now.put(what, HexFormat.of().formatHex(sha256(bytes), 0, 10) + more);
        String kept = System.getProperty("loadwitness.keep", "");
        if (!kept.isEmpty()) {
            Path file = Path.of(kept, what.replace(' ', '.'));
            Files.createDirectories(file.getParent());
            Files.write(file, bytes);
        }
    }

    private static byte[] sha256(byte[] bytes) {
        try {
            return MessageDigest.getInstance("SHA-256").digest(bytes);
        } catch (NoSuchAlgorithmException e) {
            throw new AssertionError("every Java has SHA-256", e);
        }
    }
}

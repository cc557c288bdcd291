// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.fuzz;

import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.text.VerdictJson;
import dev.loadwitness.reporter.text.VerdictText;
import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.reporter.verdict.Judgement;
import java.io.IOException;
import java.io.UncheckedIOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.Arrays;
import java.util.List;
import java.util.stream.Collectors;

/** Logs changed where they have a structure: judged, and what comes out looked at. */
final class LogTarget implements Target {
    private static final int EACH_COMMAND = 1000;
    /** One verdict of so many is held against its schema. */
    private static final int EACH_SCHEMA = 97;

    private static final int WIDTH = 80;

    @Override
    public List<String> packages() {
        return List.of(
                "dev.loadwitness.runlog",
                "dev.loadwitness.reporter.scan",
                "dev.loadwitness.reporter.criteria",
                "dev.loadwitness.reporter.statistics",
                "dev.loadwitness.reporter.verdict",
                "dev.loadwitness.reporter.text",
                "dev.loadwitness.reporter.page",
                "dev.loadwitness.reporter.pdf");
    }

    @Override
    public String extension() {
        return "jsonl";
    }

    @Override
    public int eachCommand() {
        return EACH_COMMAND;
    }

    @Override
    public void warmUp() {
        for (int seed = 0; seed < Seeds.LOGS.size(); seed++) {
            String words = check(LogMutation.of(new Choices(new byte[] {(byte) seed})), true);
            Oracle.hold(words.startsWith("whole"), "seed " + seed + " is " + words);
        }
    }

    @Override
    public byte[] input(Choices choices) {
        return LogMutation.of(choices);
    }

    @Override
    public String check(byte[] log, boolean everyCommand) {
        Path file = Scratch.FOLDER.resolve("run.jsonl");
        try {
            Files.write(file, log);
            String words = judged(file, log);
            if (everyCommand) {
                commands(file, log);
            }
            return words;
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    private static String judged(Path file, byte[] log) {
        Judgement judgement;
        try {
            judgement = Judge.judge(Judge.Request.of(file));
        } catch (IOException e) {
            String told = String.valueOf(e.getMessage());
            Oracle.hold(
                    told.contains("run.jsonl") || told.contains("inside the log"),
                    "refused without saying what: " + told);
            Oracle.visible(told, "judge's complaint");
            return "refused: "
                    + told.lines()
                            .map(line -> line.replaceAll("[0-9]+|'[^']*'", "#"))
                            .distinct()
                            .collect(Collectors.joining("|"));
        }
        if (judgement.verdict().outcome() == Outcome.PASS) {
            Oracle.hold(
                    judgement.scan().read().whole()
                            && judgement.scan().read().closed()
                            && !judgement.scan().read().unknownMust(),
                    "a log that is not whole, not closed or not understood passes");
        }
        byte[] json = VerdictJson.write(judgement.verdict());
        Oracle.json(json);
        if (Math.floorMod(Arrays.hashCode(log), EACH_SCHEMA) == 0) {
            Oracle.verdict(json);
        }
        Oracle.visible(VerdictText.screen(judgement.verdict(), WIDTH, false), "judge");
        Oracle.visible(VerdictText.render(judgement.verdict(), WIDTH, false), "judge --all");
        return (judgement.scan().read().whole() ? "whole" : "damaged")
                + judgement.scan().read().damages().stream()
                        .map(d -> d.kind().word())
                        .distinct()
                        .collect(Collectors.joining(" ", " ", ":"))
                + judgement.verdict().findings().stream()
                        .map(f -> " " + f.criterion().word() + " " + f.outcome().word())
                        .collect(Collectors.joining());
    }

    private static void commands(Path file, byte[] log) throws IOException {
        String name = file.toString();
        Path report = file.resolveSibling("report.pdf");
        Path page = file.resolveSibling("review.html");
        try {
            Oracle.command(file, log, List.of("judge", name));
            Oracle.command(file, log, List.of("judge", name, "--json"));
            Oracle.command(file, log, List.of("certify", name, "--unsigned", "--out", report.toString()));
            Oracle.command(file, log, List.of("review", name, "--out", page.toString()));
            Oracle.command(file, log, List.of("verify", name));
            Oracle.command(file, log, List.of("compare", name, name));
            if (Files.exists(page)) {
                Oracle.visible(Files.readString(page), "the review page");
            }
            if (Files.exists(report)) {
                Oracle.command(report, Files.readAllBytes(report), List.of("verify", report.toString()));
            }
        } finally {
            Files.deleteIfExists(report);
            Files.deleteIfExists(page);
        }
    }
}

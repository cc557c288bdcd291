// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.fuzz;

import dev.loadwitness.reporter.text.JobSheetCheck;
import dev.loadwitness.reporter.text.VerdictJson;
import dev.loadwitness.reporter.text.VerdictText;
import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.jobsheet.JobSheetException;
import dev.loadwitness.runlog.jobsheet.JobSheetReader;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.ProcedureException;
import dev.loadwitness.runlog.procedure.ProcedureReader;
import java.io.IOException;
import java.io.UncheckedIOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;
import java.util.Optional;
import java.util.stream.Collectors;

/** Procedures and job sheets changed where they have a structure: read, and a run judged by those that can be read. */
final class YamlTarget implements Target {
    private static final int EACH_COMMAND = 250;
    private static final int WIDTH = 80;

    private final List<String> seeds = seeds();
    private Path log;

    private static List<String> seeds() {
        List<String> seeds = new ArrayList<>();
        try {
            for (String name : List.of(
                    "thresholds/quick-check.yaml",
                    "thresholds/gpu-power-repair.yaml",
                    "thresholds/cold-starts.yaml",
                    "docs/examples/job-sheet.yaml")) {
                Path below = Path.of(name);
                String text = Files.readString(
                        Files.exists(below) ? below : Path.of("..").resolve(below));
                // Comments are no structure, and most of these files.
                seeds.add(text.replaceAll("(?m)^\\s*#.*\\R", "").replaceAll("(?m)\\s+#.*$", ""));
            }
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
        seeds.add("format: loadwitness-job-sheet/1\nticket: FBR-2026-0142\n" + Seeds.sheet());
        return List.copyOf(seeds);
    }

    @Override
    public List<String> packages() {
        return List.of(
                "dev.loadwitness.runlog.yaml",
                "dev.loadwitness.runlog.procedure",
                "dev.loadwitness.runlog.jobsheet",
                "dev.loadwitness.reporter.plan");
    }

    @Override
    public String extension() {
        return "yaml";
    }

    @Override
    public int eachCommand() {
        return EACH_COMMAND;
    }

    @Override
    public void warmUp() {
        for (String text : seeds) {
            String words = check(text.getBytes(StandardCharsets.UTF_8), true);
            Oracle.hold(words.startsWith("read"), "a seed is " + words);
        }
    }

    @Override
    public byte[] input(Choices choices) {
        return YamlMutation.of(choices.of(seeds), choices).getBytes(StandardCharsets.UTF_8);
    }

    @Override
    public String check(byte[] input, boolean everyCommand) {
        String text = new String(input, StandardCharsets.UTF_8);
        String words = "";
        Optional<JobSheet> sheet = Optional.empty();
        Optional<Procedure> procedure = Optional.empty();
        try {
            sheet = Optional.of(JobSheetReader.read("sheet.yaml", text));
            JobSheetCheck check = JobSheetCheck.of("sheet.yaml", sheet.get(), List.of());
            Oracle.visible(check.text(WIDTH), "job check");
            Oracle.json(check.json().getBytes(StandardCharsets.UTF_8));
        } catch (JobSheetException e) {
            words += told(e.getMessage(), "sheet.yaml");
        }
        try {
            procedure = Optional.of(ProcedureReader.read("procedure.yaml", text));
        } catch (ProcedureException e) {
            words += told(e.getMessage(), "procedure.yaml");
        }
        try {
            if (sheet.isPresent() || procedure.isPresent()) {
                words = "read" + judged(procedure, sheet);
            }
            if (everyCommand) {
                commands(input);
            }
            return words;
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    /** What is wrong, without what it is wrong about. */
    private static String told(String message, String file) {
        Oracle.visible(message, "the complaint about " + file);
        Oracle.hold(message.contains(file), "a complaint without its file: " + message);
        return message.lines()
                .map(line -> line.replaceAll("[0-9]+|'[^']*'", "#"))
                .distinct()
                .collect(Collectors.joining("|"));
    }

    private Path log() throws IOException {
        if (log == null) {
            log = Scratch.FOLDER.resolve("run.jsonl");
            Files.write(log, LogMutation.seed());
        }
        return log;
    }

    private String judged(Optional<Procedure> procedure, Optional<JobSheet> sheet) throws IOException {
        Judgement judgement;
        try {
            judgement = Judge.judge(new Judge.Request(log(), procedure, sheet, List.of(), false));
        } catch (IOException e) {
            Oracle.visible(Optional.ofNullable(e.getMessage()).orElse("\0"), "judge's complaint");
            return " and refused";
        }
        Oracle.json(VerdictJson.write(judgement.verdict()));
        Oracle.visible(VerdictText.render(judgement.verdict(), WIDTH, false), "judge --all");
        return judgement.verdict().findings().stream()
                .map(f -> " " + f.criterion().word() + " " + f.outcome().word())
                .collect(Collectors.joining());
    }

    private void commands(byte[] input) throws IOException {
        Path file = Scratch.FOLDER.resolve("given.yaml");
        Files.write(file, input);
        String name = file.toString();
        String run = log().toString();
        Path report = Scratch.FOLDER.resolve("report.pdf");
        Path plan = Scratch.FOLDER.resolve("plan.yaml");
        byte[] whole = Files.readAllBytes(log());
        try {
            Oracle.command(file, input, List.of("job", "check", name));
            Oracle.command(file, input, List.of("judge", run, "--criteria", name));
            Oracle.command(file, input, List.of("judge", run, "--job", name, "--json"));
            Oracle.command(
                    file, input, List.of("certify", run, "--job", name, "--unsigned", "--out", report.toString()));
            Oracle.command(file, input, List.of("plan", "--job", name));
            Oracle.command(
                    file, input, List.of("plan", "--fault-every", "12min", "--from", name, "--write", plan.toString()));
            Oracle.hold(Arrays.equals(Files.readAllBytes(log()), whole), "the log was changed");
        } finally {
            Files.deleteIfExists(report);
            Files.deleteIfExists(plan);
        }
    }
}

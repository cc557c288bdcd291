// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.procedure;

import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.Word;
import dev.loadwitness.runlog.procedure.LoadKind;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.Safety;
import dev.loadwitness.runlog.procedure.Stage;
import dev.loadwitness.runlog.yaml.Measure;
import java.nio.charset.StandardCharsets;
import java.security.MessageDigest;
import java.security.NoSuchAlgorithmException;
import java.time.Duration;
import java.util.ArrayList;
import java.util.HexFormat;
import java.util.List;
import java.util.Map;
import java.util.Objects;
import java.util.Optional;
import java.util.stream.Collectors;
import java.util.stream.Stream;

/**
 * What a run that broke off is to go on with, as read from its log just now. Whoever held the stick may have written all of
 * it, with a chain that fits; so it is shown to a person before load is put on again, and agreed to by its digest where no
 * person is at a terminal.
 */
public final class Terms {
    private static final List<String> WHICH_MACHINE = List.of("make", "model", "serial", "board-serial");

    private final List<String> said = new ArrayList<>();

    private Terms() {}

    /**
     * The terms of a run that is to go on.
     *
     * @param procedure as it is run, with what the job sheet's rail makes of it
     * @param lengthened which stages take longer by that
     * @param left the stages that are still to run
     */
    public static Terms of(Header header, Procedure procedure, Optional<String> lengthened, List<Stage> left) {
        Terms terms = new Terms();
        terms.say("ticket", header.ticket().isEmpty() ? "none" : header.ticket());
        terms.say("machine", machine(header.facts().getOrDefault("machine", Map.of())));
        Attachment text = header.procedure();
        terms.say("procedure", procedure.name() + ": " + procedure.title());
        terms.say("SHA-256 of it", text.sha256() + ", " + shipped(text));
        lengthened.ifPresent(longer -> terms.say("", longer));
        terms.say("load comes off", ceilings(procedure.safety()));
        terms.say("on-interruption", procedure.onInterruption().word());
        String heading = "stages left";
        for (Stage stage : left) {
            terms.say(heading, stage(stage));
            heading = "";
        }
        Duration all = left.stream().map(Stage::duration).reduce(Duration.ZERO, Duration::plus);
        terms.say("in all", length(all));
        return terms;
    }

    /** For people, line by line. */
    public List<String> lines() {
        List<String> lines = new ArrayList<>();
        lines.add("What it goes on with, as read from the log just now:");
        said.forEach(line -> lines.add("  " + line));
        return lines;
    }

    /** SHA-256 over all that is shown, in lower-case hex: who repeats it agrees to this and to nothing else. */
    public String digest() {
        try {
            byte[] bytes = String.join("\n", said).getBytes(StandardCharsets.UTF_8);
            return HexFormat.of().formatHex(MessageDigest.getInstance("SHA-256").digest(bytes));
        } catch (NoSuchAlgorithmException e) {
            throw new IllegalStateException("every Java platform has SHA-256", e);
        }
    }

    private void say(String what, String text) {
        // Nothing that steers a terminal or turns its letters round: what is shown must be what is there.
        said.add(String.format("%-17s %s", what, text.replaceAll("[\\p{Cc}\\p{Cf}\\p{Zl}\\p{Zp}]", "?")));
    }

    private static String machine(Map<String, String> facts) {
        String told =
                WHICH_MACHINE.stream().map(facts::get).filter(Objects::nonNull).collect(Collectors.joining(", "));
        return told.isEmpty()
                ? "not told by the log; look yourself whether it is this one"
                : told + "; what both tell agrees with this one";
    }

    private static String shipped(Attachment text) {
        return OwnProcedures.nameOf(text.sha256())
                .map(name -> "the same as " + name + " that this program came with")
                .orElse("NOT one of the procedures that this program came with");
    }

    private static String ceilings(Safety safety) {
        String above = safety.stopAboveCelsius().entrySet().stream()
                .map(e -> e.getKey().word() + " above " + Measure.TEMPERATURE.write(e.getValue()))
                .collect(Collectors.joining(", "));
        return Stream.of(
                        above,
                        "a temperature silent for "
                                + Measure.DURATION.write(safety.silentAfter().toNanos() / 1e9),
                        safety.stopWhenAdapterLost() ? "adapter lost" : "NOT when the adapter is lost",
                        safety.allowUnguarded()
                                ? "a part that no sensor watches is loaded all the same"
                                : "no part without a sensor is loaded")
                .filter(part -> !part.isEmpty())
                .collect(Collectors.joining("; "));
    }

    private static String stage(Stage stage) {
        String loads = stage.loads().stream().map(Word::word).collect(Collectors.joining("+"));
        return stage.id() + ", " + length(stage.duration()) + ", "
                + (loads.isEmpty() ? "no load" : loads)
                + stage.gpu().map(role -> " on " + role.word()).orElse("")
                + stage.asks().map(ask -> ", asks: " + ask.word()).orElse("");
    }

    private static String length(Duration duration) {
        return Measure.DURATION.write(duration.toNanos() / 1e9);
    }

    /** Whether any of it puts a load on. */
    public static boolean hasLoad(List<Stage> left) {
        return left.stream().map(Stage::loads).anyMatch((List<LoadKind> loads) -> !loads.isEmpty());
    }
}

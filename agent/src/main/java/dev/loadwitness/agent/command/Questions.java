// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.command;

import dev.loadwitness.agent.place.Home;
import dev.loadwitness.agent.place.Texts;
import dev.loadwitness.agent.screen.Prompt;
import dev.loadwitness.agent.session.RunOptions;
import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.procedure.GraphicsRail;
import dev.loadwitness.runlog.procedure.Procedure;
import java.io.Console;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.List;
import java.util.Optional;
import java.util.Set;
import java.util.stream.Collectors;
import org.jspecify.annotations.Nullable;

/**
 * The few things that a run needs to know, asked on a terminal.
 *
 * @param jobSheet made of the answers, unless a file was given
 */
record Questions(Path procedure, Optional<Attachment> jobSheet) {
    private static final double MOST_WATTS = 2000;

    /** Asks, and puts what belongs there into {@code options}. An empty answer leaves a thing open. */
    static Questions ask(RunOptions options, Home home, Console console) throws Complaint {
        if (options.ticket == null) {
            String ticket = Prompt.answer(console, "Ticket (Enter for none): ");
            options.ticket = ticket.isEmpty() ? null : ticket;
        }
        Path procedure = procedure(home, console);
        if (options.ambientCelsius == null) {
            options.ambientCelsius = number(
                    console,
                    "Room temperature in degrees Celsius, 30 cm from the intake (Enter if not taken): ",
                    "22.5",
                    RunOptions.COLDEST,
                    RunOptions.HOTTEST);
        }
        Optional<Attachment> sheet = Optional.empty();
        // Without a ticket there is no job, and a sheet of it would have no place in the report.
        if (options.job == null && options.ticket != null) {
            Double rated = number(console, "Rated graphics power in W (Enter if unknown): ", "150", 1, MOST_WATTS);
            Double adapter = number(console, "Adapter power in W (Enter if unknown): ", "240", 1, MOST_WATTS);
            sheet = Optional.of(sheet(options.ticket, rated, adapter, rail(procedure, console)));
        }
        return new Questions(procedure, sheet);
    }

    /** Asked only where the answer changes what is run. */
    private static String rail(Path procedure, Console console) throws Complaint {
        Set<GraphicsRail> rails = Texts.procedure(Texts.file(procedure)).railsWithAShare();
        return rails.isEmpty()
                ? ""
                : Prompt.answer(
                        console,
                        "Repaired rail, which is loaded longer ("
                                + rails.stream().map(GraphicsRail::word).collect(Collectors.joining(", "))
                                + "; Enter for neither): ");
    }

    private static Path procedure(Home home, Console console) throws Complaint {
        List<Path> offered = home.procedures();
        for (int i = 0; i < offered.size(); i++) {
            console.printf("  %d  %s%n", i + 1, described(offered.get(i)));
        }
        String question =
                offered.isEmpty() ? "Procedure (a file's path): " : "Procedure (number, name, or a file's path): ";
        while (true) {
            String answer = Prompt.answer(console, question);
            if (answer.matches("[0-9]{1,2}")) {
                int number = Integer.parseInt(answer);
                if (number >= 1 && number <= offered.size()) {
                    return offered.get(number - 1);
                }
            } else if (!answer.isEmpty()) {
                Optional<Path> named = home.procedure(answer).filter(Files::isRegularFile);
                if (named.isPresent()) {
                    return named.get();
                }
            }
            console.printf("There is no '%s'.%n", answer);
        }
    }

    /** With its title, and whether it needs a GPU. */
    private static String described(Path file) {
        try {
            Procedure procedure = Texts.procedure(Texts.file(file));
            return Home.name(file) + "   " + procedure.title()
                    + (procedure.requiredDevices().isEmpty() ? "" : "   (needs a GPU that OpenCL offers)");
        } catch (Complaint e) {
            return Home.name(file) + "   (has mistakes in it)";
        }
    }

    private static @Nullable Double number(Console console, String question, String example, double least, double most)
            throws Complaint {
        while (true) {
            String answer = Prompt.answer(console, question).replaceAll(" ?(W|°?C|Cel)$", "");
            if (answer.isEmpty()) {
                return null;
            }
            if (answer.matches("-?[0-9]{1,4}([.,][0-9]{1,2})?")) {
                double value = Double.parseDouble(answer.replace(',', '.'));
                if (value >= least && value <= most) {
                    return value;
                }
            }
            console.printf("'%s' is no number from %.0f to %.0f; write for example %s%n", answer, least, most, example);
        }
    }

    private static Attachment sheet(String ticket, @Nullable Double rated, @Nullable Double adapter, String rail) {
        StringBuilder text = new StringBuilder("# Made of the answers given at the start of the run.\n");
        text.append("format: loadwitness-job-sheet/1\n");
        text.append("ticket: ").append(quoted(ticket)).append('\n');
        if (rated != null) {
            text.append("rated-graphics-power: ").append(rated).append(" W\n");
        }
        if (adapter != null) {
            text.append("adapter-power: ").append(adapter).append(" W\n");
        }
        if (!rail.isEmpty()) {
            text.append("repaired-rail: ").append(quoted(rail)).append('\n');
        }
        return Attachment.of("job-sheet.yaml", text.toString());
    }

    private static String quoted(String text) {
        return "'" + text.replace("'", "''") + "'";
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import dev.loadwitness.runlog.Attachment;
import java.io.Console;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.List;
import java.util.Optional;
import java.util.stream.Stream;

/**
 * The few things that a run needs to know, asked on a terminal.
 *
 * @param jobSheet made of the answers, unless a file was given
 */
record Questions(Path procedure, Optional<Attachment> jobSheet) {
    private static final Path THRESHOLDS = Path.of("thresholds");

    /** Asks, and puts what belongs there into {@code options}. An empty answer leaves a thing open. */
    static Questions ask(RunOptions options, Console console) throws Complaint {
        if (options.ticket == null) {
            String ticket = ask(console, "Ticket (Enter for none): ");
            options.ticket = ticket.isEmpty() ? null : ticket;
        }
        Path procedure = procedure(console);
        if (options.ambientCelsius == null) {
            options.ambientCelsius =
                    number(console, "Room temperature in Cel, 30 cm from the intake (Enter if not taken): ");
        }
        Optional<Attachment> sheet = Optional.empty();
        if (options.job == null) {
            Double rated = number(console, "Rated graphics power in W (Enter if unknown): ");
            Double adapter = number(console, "Adapter power in W (Enter if unknown): ");
            sheet = Optional.of(sheet(options.ticket, rated, adapter));
        }
        if (options.out == null) {
            String name = options.ticket == null ? "run" : options.ticket.replaceAll("[^A-Za-z0-9._-]", "_");
            options.out = Path.of(name + "-" + System.currentTimeMillis() / 1000);
        }
        return new Questions(procedure, sheet);
    }

    private static Path procedure(Console console) throws Complaint {
        List<Path> offered = offered();
        for (int i = 0; i < offered.size(); i++) {
            console.printf("  %d  %s%n", i + 1, offered.get(i));
        }
        while (true) {
            String answer = ask(console, "Procedure (number, or a file's path): ");
            if (answer.matches("[0-9]{1,2}")) {
                int number = Integer.parseInt(answer);
                if (number >= 1 && number <= offered.size()) {
                    return offered.get(number - 1);
                }
            } else if (!answer.isEmpty() && Files.isRegularFile(Path.of(answer))) {
                return Path.of(answer);
            }
            console.printf("There is no '%s'.%n", answer);
        }
    }

    private static List<Path> offered() {
        try (Stream<Path> files = Files.list(THRESHOLDS)) {
            return files.filter(f -> f.toString().endsWith(".yaml")).sorted().toList();
        } catch (IOException e) {
            return List.of();
        }
    }

    private static Double number(Console console, String question) throws Complaint {
        while (true) {
            String answer = ask(console, question);
            if (answer.isEmpty()) {
                return null;
            }
            if (answer.matches("-?[0-9]{1,4}([.,][0-9]{1,2})?")) {
                return Double.valueOf(answer.replace(',', '.'));
            }
            console.printf("'%s' is no number; write for example 22.5%n", answer);
        }
    }

    private static String ask(Console console, String question) throws Complaint {
        String answer = console.readLine("%s", question);
        if (answer == null) {
            throw new Complaint(Exit.USAGE, "no answer; give the options instead, see --help");
        }
        return answer.strip();
    }

    private static Attachment sheet(String ticket, Double rated, Double adapter) {
        StringBuilder text = new StringBuilder("# Made of the answers given at the start of the run.\n");
        text.append("format: loadwitness-job-sheet/1\n");
        text.append("ticket: ").append(quoted(ticket == null ? "" : ticket)).append('\n');
        if (rated != null) {
            text.append("rated-graphics-power: ").append(rated).append(" W\n");
        }
        if (adapter != null) {
            text.append("adapter-power: ").append(adapter).append(" W\n");
        }
        return Attachment.of("job-sheet.yaml", text.toString());
    }

    private static String quoted(String text) {
        return "'" + text.replace("'", "''") + "'";
    }
}

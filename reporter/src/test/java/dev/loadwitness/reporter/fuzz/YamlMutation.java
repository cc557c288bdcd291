// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.fuzz;

import dev.loadwitness.runlog.procedure.Criterion;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;
import java.util.stream.Collectors;

/** Changes a sheet or a procedure where it has a structure: lines, keys, values, indents. */
final class YamlMutation {
    private static final int MOST_CHANGES = 8;
    private static final List<String> CRITERIA =
            Arrays.stream(Criterion.values()).map(Criterion::word).toList();

    private YamlMutation() {}

    static String of(String text, Choices choices) {
        List<String> lines = text.lines().collect(Collectors.toCollection(ArrayList::new));
        for (int i = 0; i < MOST_CHANGES && choices.left() && !lines.isEmpty(); i++) {
            change(lines, choices);
        }
        return String.join("\n", lines) + "\n";
    }

    private static void change(List<String> lines, Choices choices) {
        int at = choices.below(lines.size());
        String line = lines.get(at);
        switch (choices.below(10)) {
            case 0, 1, 2, 3 -> lines.set(at, value(line, choices));
            case 4 -> lines.remove(at);
            case 5 -> lines.add(choices.below(lines.size() + 1), line);
            case 6 -> lines.set(at, " ".repeat(choices.below(9)) + line.strip());
            case 7 -> lines.add(at, criterion(choices));
            case 8 -> lines.set(at, line.isEmpty() ? "\t" : cut(line, choices));
            default -> lines.set(at, lines.get(choices.below(lines.size())));
        }
    }

    /** Another value for the line's key, or for one within its braces. */
    private static String value(String line, Choices choices) {
        String odd = choices.of(Odd.YAML);
        List<Integer> colons = new ArrayList<>();
        for (int i = line.indexOf(':'); i >= 0; i = line.indexOf(':', i + 1)) {
            colons.add(i);
        }
        if (colons.isEmpty()) {
            return line + odd;
        }
        int colon = choices.of(colons);
        int end = line.length();
        for (int i = colon + 1; i < line.length(); i++) {
            if (line.charAt(i) == ',' || line.charAt(i) == '}' || line.charAt(i) == '#') {
                end = i;
                break;
            }
        }
        return line.substring(0, colon + 1) + " " + odd + line.substring(end);
    }

    private static String criterion(Choices choices) {
        Criterion criterion = Criterion.values()[choices.below(Criterion.values().length)];
        String parameters = criterion.parameters().stream()
                .map(p -> ", " + p.name() + ": " + choices.of(Odd.YAML))
                .collect(Collectors.joining());
        return "  " + choices.of(CRITERIA) + ": {mandatory: " + (choices.oneOf(2) ? "no" : "yes") + parameters + "}";
    }

    private static String cut(String line, Choices choices) {
        int from = choices.below(line.length());
        int to = from + 1 + choices.below(line.length() - from);
        return choices.oneOf(2) ? line.substring(0, from) + line.substring(to) : line.substring(from, to);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.yaml;

import dev.loadwitness.runlog.Shown;
import dev.loadwitness.runlog.Word;
import java.math.BigDecimal;
import java.time.Duration;
import java.time.LocalDate;
import java.time.format.DateTimeParseException;
import java.util.ArrayList;
import java.util.Collection;
import java.util.Comparator;
import java.util.List;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.regex.Matcher;
import java.util.regex.Pattern;
import java.util.stream.Collectors;
import java.util.stream.Stream;

/**
 * One file being taken apart. A value that is wrong becomes a problem and an empty answer, and reading goes on, so that
 * all faults of a file come at once. No answer depends on the machine's language.
 */
public final class Reading {
    /** More than anybody mends in one go. */
    private static final int PROBLEMS_MAX = 50;

    private static final int ITEMS_MAX = 200;
    private static final int SHOWN_MAX = 40;
    private static final Pattern NUMBER_AND_UNIT =
            Pattern.compile("([+-]?[0-9]{1,9}(?:\\.[0-9]{1,9})?) *([^0-9 .,].*)?");
    private static final Pattern DECIMAL_COMMA = Pattern.compile("[+-]?[0-9]+,[0-9]+.*");

    private final List<Problem> problems = new ArrayList<>();
    private Optional<Problem> more = Optional.empty();

    /** The file as a tree; empty if it cannot be read at all, which is then the only problem. */
    public Optional<Located> tree(String yamlText) {
        try {
            return Optional.of(YamlTree.read(yamlText));
        } catch (YamlTree.Refused e) {
            problems.add(e.problem());
            return Optional.empty();
        }
    }

    /** What was found wrong so far, in the order of the file; after fifty only that there is more. */
    public List<Problem> problems() {
        Stream<Problem> inOrder =
                problems.stream().sorted(Comparator.comparingInt(Problem::line).thenComparingInt(Problem::column));
        return Stream.concat(inOrder, more.stream()).toList();
    }

    public boolean isFlawless() {
        return problems.isEmpty();
    }

    public void problem(Located at, String text) {
        if (problems.size() < PROBLEMS_MAX) {
            problems.add(new Problem(at.line(), at.column(), text));
        } else if (more.isEmpty()) {
            more = Optional.of(new Problem(
                    at.line(), at.column(), "this and more is not listed; mend the ones above and read again"));
        }
    }

    /** A mapping whose keys are all in {@code keys}; empty if {@code at} is something else. */
    public Optional<Section> section(Located at, String what, List<String> keys) {
        if (at instanceof Located.Fields fields) {
            return Optional.of(new Section(this, fields, what, keys));
        }
        problem(at, what + " holds keys, one a line, each with a colon; the keys are " + String.join(", ", keys));
        return Optional.empty();
    }

    /** Refuses a file that is not of exactly this format, for example {@code loadwitness-procedure/1}. */
    public void format(Section top, String format) {
        Optional<String> given = top.required("format", format).flatMap(v -> single(v, "format"));
        if (given.isPresent() && !given.get().equals(format)) {
            problem(
                    top.keyAt("format"),
                    "format is '" + shown(given.get()) + "' but this version reads " + format
                            + "; is it the right file, or one for a newer version?");
        }
    }

    /** The items of a list; a single value is not one. */
    public List<Located> items(Located at, String what, String example) {
        if (!(at instanceof Located.Items list)) {
            problem(at, what + " is a list; write for example " + example);
            return List.of();
        }
        if (list.items().size() > ITEMS_MAX) {
            problem(at, what + " has " + list.items().size() + " items; at most " + ITEMS_MAX + " are read");
            return List.of();
        }
        return list.items();
    }

    /** Text on one line (line breaks become spaces), without control characters, at most {@code lengthMax} long. */
    public Optional<String> text(Located at, String what, int lengthMax) {
        Optional<String> found = single(at, what)
                .map(t -> t.strip().lines().map(String::strip).collect(Collectors.joining(" ")))
                .filter(t -> !t.isEmpty());
        if (found.isEmpty()) {
            if (at instanceof Located.Text) {
                problem(at, what + " is empty; write a text");
            }
            return found;
        }
        String text = found.get();
        if (text.length() > lengthMax) {
            problem(at, what + " has " + text.length() + " characters; at most " + lengthMax + " are kept");
            return Optional.empty();
        }
        if (!text.codePoints().allMatch(Shown::visible)) {
            problem(at, what + " holds a control character, which would not print; take it out");
            return Optional.empty();
        }
        return found;
    }

    /** Lower-case letters, digits and hyphens: safe as a file name and in a table. */
    public Optional<String> identifier(Located at, String what) {
        return text(at, what, 200).filter(t -> {
            boolean fits = t.matches("[a-z0-9][a-z0-9-]{0,63}");
            if (!fits) {
                problem(
                        at,
                        what + " is '" + shown(t) + "'; use lower-case letters, digits and hyphens, at most 64, for"
                                + " example discrete-soak");
            }
            return fits;
        });
    }

    /** One of {@code allowed}. */
    public <E extends Enum<E> & Word> Optional<E> word(Located at, String what, Collection<E> allowed) {
        Optional<String> text = single(at, what);
        Optional<E> found = text.flatMap(
                t -> allowed.stream().filter(e -> e.word().equals(t)).findFirst());
        if (found.isEmpty() && text.isPresent()) {
            problem(
                    at,
                    unknown(what, text.get(), allowed.stream().map(Word::word).toList()));
        }
        return found;
    }

    /** One of two words; {@code true} for the first. */
    public Optional<Boolean> either(Located at, String what, String yes, String no) {
        return single(at, what).flatMap(t -> {
            if (t.equals(yes) || t.equals(no)) {
                return Optional.of(t.equals(yes));
            }
            problem(at, what + " is '" + shown(t) + "'; write " + yes + " or " + no);
            return Optional.empty();
        });
    }

    public Optional<LocalDate> date(Located at, String what) {
        return single(at, what).flatMap(t -> {
            try {
                return Optional.of(LocalDate.parse(t));
            } catch (DateTimeParseException e) {
                problem(at, what + " is '" + shown(t) + "'; write year-month-day, for example 2026-11-20");
                return Optional.empty();
            }
        });
    }

    public Optional<Duration> duration(Located at, String what, Duration least, Duration most) {
        OptionalDouble seconds = number(at, what, Measure.DURATION, least.toMillis() / 1e3, most.toMillis() / 1e3);
        return seconds.isPresent()
                ? Optional.of(Duration.ofMillis(Math.round(seconds.getAsDouble() * 1e3)))
                : Optional.empty();
    }

    /** A number with its unit, in the unit that {@code measure} holds, from {@code least} to {@code most}. */
    public OptionalDouble number(Located at, String what, Measure measure, double least, double most) {
        Optional<String> text = single(at, what);
        if (text.isEmpty()) {
            return OptionalDouble.empty();
        }
        Matcher parts = NUMBER_AND_UNIT.matcher(text.get().strip());
        if (!parts.matches()) {
            String why = DECIMAL_COMMA.matcher(text.get().strip()).matches()
                    ? "which has a comma where a point belongs"
                    : "which is not a number" + (measure.unitWords().isEmpty() ? "" : " with a unit");
            return wrong(at, what, text.get(), why, measure);
        }
        String given = parts.group(2) == null ? "" : parts.group(2).strip();
        Optional<Measure.Unit> unit =
                measure.units().stream().filter(u -> u.word().equals(given)).findFirst();
        if (unit.isEmpty()) {
            return wrong(at, what, text.get(), unitFault(given, measure), measure);
        }
        BigDecimal exact = new BigDecimal(parts.group(1)).multiply(unit.get().factor());
        if (measure == Measure.COUNT && exact.stripTrailingZeros().scale() > 0) {
            return wrong(at, what, text.get(), "which is not a whole number", measure);
        }
        double value = exact.doubleValue();
        if (value < least || value > most) {
            problem(
                    at,
                    what + " is " + shown(text.get()) + ", which is out of range; write a value from "
                            + measure.write(least) + " to " + measure.write(most));
            return OptionalDouble.empty();
        }
        return OptionalDouble.of(value);
    }

    private OptionalDouble wrong(Located at, String what, String given, String why, Measure measure) {
        problem(at, what + " is '" + shown(given) + "', " + why + "; write for example " + measure.examples());
        return OptionalDouble.empty();
    }

    private static String unitFault(String given, Measure measure) {
        List<String> words = measure.unitWords();
        if (given.isEmpty()) {
            return "which has no unit (" + String.join(", ", words) + ")";
        }
        if (words.isEmpty()) {
            return "where a plain number without a unit belongs";
        }
        String meant = Nearest.of(given, words)
                .map(w -> ", did you mean '" + w + "'?")
                .orElse(" (" + String.join(", ", words) + (words.size() == 1 ? " is)" : " are)"));
        return "and '" + shown(given) + "' is not a unit here" + meant;
    }

    private Optional<String> single(Located at, String what) {
        if (at instanceof Located.Text text) {
            return Optional.of(text.value());
        }
        problem(at, what + " is one value, not a list and not keys; write it behind the colon");
        return Optional.empty();
    }

    /** "unknown key 'duratoin'; did you mean 'duration'?", or all valid words where none is near. */
    static String unknown(String what, String given, Collection<String> words) {
        return "unknown " + what + " '" + shown(given) + "'; "
                + Nearest.of(given, words)
                        .map(w -> "did you mean '" + w + "'?")
                        .orElseGet(() -> "valid here: " + words.stream().collect(Collectors.joining(", ")));
    }

    static String shown(String text) {
        return shown(text, SHOWN_MAX);
    }

    /** Foreign text for a message: cut, on one line, and without anything that could steer a terminal. */
    static String shown(String text, int lengthMax) {
        StringBuilder shown = new StringBuilder();
        text.codePoints().limit(lengthMax).forEach(c -> shown.appendCodePoint(Shown.visible(c) ? c : '?'));
        return text.codePointCount(0, text.length()) > lengthMax ? shown + "…" : shown.toString();
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.yaml;

import java.util.HashSet;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.Set;

/** A mapping whose keys were checked: unknown and repeated ones are already among the problems. */
public final class Section {
    private final Reading reading;
    private final Located.Fields at;
    private final String what;
    private final Map<String, Located.Field> fields = new LinkedHashMap<>();
    /** Keys that a misspelt one probably stands for: not reported as missing a second time. */
    private final Set<String> meant = new HashSet<>();

    Section(Reading reading, Located.Fields at, String what, List<String> keys) {
        this.reading = reading;
        this.at = at;
        this.what = what;
        for (Located.Field field : at.fields()) {
            String key = field.key().value();
            if (!keys.contains(key)) {
                reading.problem(field.key(), Reading.unknown("key", key, keys) + inside());
                Nearest.of(key, keys).ifPresent(meant::add);
            } else if (fields.putIfAbsent(key, field) != null) {
                reading.problem(
                        field.key(),
                        "'" + key + "' is given a second time" + inside() + ", first in line "
                                + fields.get(key).key().line() + "; keep one");
            }
        }
    }

    private String inside() {
        return " (in " + what + ")";
    }

    /** The key itself, for problems about it; the section where it is missing. */
    public Located keyAt(String key) {
        Located.Field field = fields.get(key);
        return field == null ? at : field.key();
    }

    /** The value of a key that must be there. */
    public Optional<Located> required(String key, String example) {
        if (!fields.containsKey(key) && !meant.contains(key)) {
            reading.problem(at, what + " lacks '" + key + "'; write for example " + key + ": " + example);
        }
        return optional(key, example);
    }

    /** The value of a key that may be left out, but not left empty. */
    public Optional<Located> optional(String key, String example) {
        Optional<Located> value = Optional.ofNullable(fields.get(key)).map(Located.Field::value);
        if (value.filter(Section::isEmpty).isPresent()) {
            reading.problem(
                    value.get(),
                    "'" + key + "' has no value" + inside() + "; write for example " + key + ": " + example);
            return Optional.empty();
        }
        return value;
    }

    /** The value of a key that may be left out or left empty. */
    public Optional<Located> open(String key) {
        return Optional.ofNullable(fields.get(key)).map(Located.Field::value).filter(v -> !isEmpty(v));
    }

    /** Keys that are there, in the order of the file. */
    public List<String> keys() {
        return List.copyOf(fields.keySet());
    }

    private static boolean isEmpty(Located value) {
        return value instanceof Located.Text text && text.value().isBlank();
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import dev.loadwitness.runlog.Word;
import dev.loadwitness.runlog.yaml.Nearest;
import java.util.Arrays;
import java.util.EnumSet;
import java.util.List;
import java.util.Locale;
import java.util.Optional;
import java.util.Set;
import java.util.regex.Pattern;

/** A supply rail of a GPU that some load works on more than the others do. */
public enum GraphicsRail implements Word {
    GRAPHICS_CORE,
    GRAPHICS_MEMORY;

    private static final Pattern SEVERAL = Pattern.compile("[,;/+&]|\\sand\\s");
    private static final Pattern GAP = Pattern.compile("[\\s_-]+");
    private static final Pattern NOUN = Pattern.compile("-rails?$");

    /**
     * The rails that a job sheet's free text names: {@code graphics core}, {@code Graphics-Core rail}, or several with a
     * comma, "and", or a plus between them. Whatever else stands there names none, and is no fault.
     */
    public static Set<GraphicsRail> named(String text) {
        Set<GraphicsRail> named = EnumSet.noneOf(GraphicsRail.class);
        parts(text).forEach(part -> Word.find(GraphicsRail.class, part).ifPresent(named::add));
        return named;
    }

    /** The word that was probably meant by a text that names no rail: {@code graphic-core} is near one. */
    public static Optional<GraphicsRail> near(String text) {
        List<String> words = Arrays.stream(values()).map(GraphicsRail::word).toList();
        return parts(text).stream()
                .flatMap(part -> Nearest.of(part, words).stream())
                .flatMap(word -> Word.find(GraphicsRail.class, word).stream())
                .findFirst();
    }

    private static List<String> parts(String text) {
        return SEVERAL.splitAsStream(text)
                .map(part -> GAP.matcher(part.strip().toLowerCase(Locale.ROOT)).replaceAll("-"))
                .map(part -> NOUN.matcher(part).replaceFirst(""))
                .filter(part -> !part.isEmpty())
                .toList();
    }
}

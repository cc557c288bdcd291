// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.within;

import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.regex.Matcher;
import java.util.regex.Pattern;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.ValueSource;

/** WCAG 2.2, level AA: 4.5 to 1 for text (1.4.3), 3 to 1 for lines and marks (1.4.11). */
final class PaletteTest {
    private static final Pattern COLOUR = Pattern.compile("--([a-z0-9]+): (#[0-9a-f]{6});");

    @ParameterizedTest
    @ValueSource(strings = {"light", "dark"})
    void textsAreReadable(String scheme) {
        Map<String, String> colours = colours(scheme);
        for (String text : List.of(
                "text", "quiet", "pass", "fail", "inconclusive", "idle", "accent", "limit", "fault", "notice")) {
            for (String ground : List.of("ground", "panel", "band", "band2")) {
                assertThat(Contrast.of(colours.get(text), colours.get(ground)))
                        .as("%s on %s, %s", text, ground, scheme)
                        .isGreaterThanOrEqualTo(4.5);
            }
        }
        assertThat(Contrast.of(colours.get("text"), colours.get("line"))).isGreaterThanOrEqualTo(4.5);
    }

    @ParameterizedTest
    @ValueSource(strings = {"light", "dark"})
    void linesAndMarksStandOut(String scheme) {
        Map<String, String> colours = colours(scheme);
        for (String line : List.of("c0", "c1", "c2", "c3", "c4", "c5", "c6", "c7", "c8", "limit", "fault", "focus")) {
            for (String ground : List.of("ground", "band", "band2")) {
                assertThat(Contrast.of(colours.get(line), colours.get(ground)))
                        .as("%s on %s, %s", line, ground, scheme)
                        .isGreaterThanOrEqualTo(3);
            }
        }
        for (String shape : List.of("pass", "fail", "inconclusive", "idle")) {
            assertThat(Contrast.of(colours.get("on"), colours.get(shape)))
                    .as("inside of %s, %s", shape, scheme)
                    .isGreaterThanOrEqualTo(3);
        }
    }

    /** Black on white is 21 to 1 by the definition; #777777 on white is the well-known near miss, 4.48 to 1. */
    @org.junit.jupiter.api.Test
    void theFormulaGivesItsKnownValues() {
        assertThat(Contrast.of("#000000", "#ffffff")).isEqualTo(21, within(1e-9));
        assertThat(Contrast.of("#777777", "#ffffff")).isEqualTo(4.48, within(0.005));
    }

    private static Map<String, String> colours(String scheme) {
        String style = Assets.style();
        int dark = style.indexOf("prefers-color-scheme: dark");
        String part = scheme.equals("dark") ? style.substring(dark) : style.substring(0, dark);
        Map<String, String> found = new LinkedHashMap<>();
        Matcher m = COLOUR.matcher(part);
        while (m.find()) {
            found.putIfAbsent(m.group(1), m.group(2));
        }
        return found;
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

import static org.assertj.core.api.Assertions.assertThat;

import java.io.IOException;
import java.io.StringWriter;
import java.io.Writer;
import org.junit.jupiter.api.Test;

final class ShownTest {
    @Test
    void charactersThatHideOrTurnOthersAreNamed() {
        assertThat(Shown.line("a\u202Eb\u2066c\u200Fd\u0000e\u001Bf\uFEFFg\u2028h\u009Bi\u061Cj\u00ADk\u2069l"))
                .isEqualTo(
                        "a⟨U+202E⟩b⟨U+2066⟩c⟨U+200F⟩d⟨U+0000⟩e⟨U+001B⟩f⟨U+FEFF⟩g⟨U+2028⟩h⟨U+009B⟩i⟨U+061C⟩j⟨U+00AD⟩k⟨U+2069⟩l");
    }

    @Test
    void allControlsAllMarksOfDirectionAndAllHalvesOfCharactersAreAmongThem() {
        for (int c = 0; c <= Character.MAX_CODE_POINT; c++) {
            int type = Character.getType(c);
            if (type == Character.CONTROL
                    || type == Character.SURROGATE
                    || type == Character.PRIVATE_USE
                    || type == Character.LINE_SEPARATOR
                    || type == Character.PARAGRAPH_SEPARATOR
                    || (type == Character.FORMAT && !isSeen(c))) {
                assertThat(Shown.visible(c)).as("U+%04X", c).isFalse();
            }
        }
    }

    /** Signs before and within Arabic, Syriac, Kaithi and hieroglyph numbers and words. */
    private static boolean isSeen(int c) {
        return (c >= 0x600 && c <= 0x605)
                || c == 0x6DD
                || c == 0x70F
                || (c >= 0x890 && c <= 0x891)
                || c == 0x8E2
                || c == 0x110BD
                || c == 0x110CD
                || (c >= 0x13430 && c <= 0x1343F);
    }

    @Test
    void halfACharacterIsNamedAndWholeOnesStay() {
        assertThat(Shown.line("x\uD800y")).isEqualTo("x⟨U+D800⟩y");
        assertThat(Shown.line("Åsa 𝛀 修理 اصلاح 60 °C ± 2 K · –")).isEqualTo("Åsa 𝛀 修理 اصلاح 60 °C ± 2 K · –");
    }

    @Test
    void ofALongTextTheBeginningIsShownAndNoCharacterIsHalved() {
        assertThat(Shown.line("steady", 6)).isEqualTo("steady");
        assertThat(Shown.line("steady\n", 6)).isEqualTo("steady …");
        assertThat(Shown.line("a\u202Ebcdef", 4)).isEqualTo("a⟨U+202E⟩bc …");
        assertThat(Shown.line("ab𝛀cd", 3)).isEqualTo("ab …");
        assertThat(Shown.line("ab𝛀cd", 4)).isEqualTo("ab𝛀 …");
    }

    @Test
    void aTextOfSeveralLinesCannotLookLikeSeveralTexts() {
        assertThat(Shown.line("fine\nVerdict: pass\r\n\tyes")).isEqualTo("fine Verdict: pass   yes");
    }

    @Test
    void jsonKeepsItsMeaningAndItsLayout() {
        assertThat(Shown.json("{\n\t\"a\" : \"x\u202Ey\u0085\uDC00 𝛀 é\uDB40\uDC41\"\n}\n"))
                .isEqualTo("{\n\t\"a\" : \"x\\u202Ey\\u0085\\uDC00 𝛀 é\\uDB40\\uDC41\"\n}\n");
    }

    @Test
    void whatIsPrintedPassesByLinesAndCharactersCutAnywhereStayWhole() throws IOException {
        StringWriter seen = new StringWriter();
        try (Writer out = Shown.writer(seen)) {
            out.write("one\n\ttwo \u001B[2J");
            out.write("\uD835");
            out.write(new char[] {'\uDEC0', '\u202E'}, 0, 2);
            out.write(0x9B);
            out.write("\uD835x \u001B[1;31mFAIL\u001B[0m\u001B[8m");
        }
        assertThat(seen)
                .hasToString("one\n\ttwo ⟨U+001B⟩[2J𝛀⟨U+202E⟩⟨U+009B⟩⟨U+D835⟩x \u001B[1;31mFAIL\u001B[0m⟨U+001B⟩[8m");
    }
}

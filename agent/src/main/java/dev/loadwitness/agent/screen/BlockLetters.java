// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.screen;

import java.util.HashMap;
import java.util.Locale;
import java.util.Map;

/** Letters five rows high, to be read from three metres. Drawn for this program: only what the screen needs. */
final class BlockLetters {
    static final int ROWS = 5;

    private static final Map<Character, String[]> SHAPES = new HashMap<>();

    static {
        put('A', " ## ", "#  #", "####", "#  #", "#  #");
        put('B', "### ", "#  #", "### ", "#  #", "### ");
        put('C', " ###", "#   ", "#   ", "#   ", " ###");
        put('D', "### ", "#  #", "#  #", "#  #", "### ");
        put('E', "####", "#   ", "### ", "#   ", "####");
        put('F', "####", "#   ", "### ", "#   ", "#   ");
        put('G', " ###", "#   ", "# ##", "#  #", " ###");
        put('H', "#  #", "#  #", "####", "#  #", "#  #");
        put('I', "###", " # ", " # ", " # ", "###");
        put('K', "#  #", "# # ", "##  ", "# # ", "#  #");
        put('L', "#   ", "#   ", "#   ", "#   ", "####");
        put('M', "#   #", "## ##", "# # #", "#   #", "#   #");
        put('N', "#   #", "##  #", "# # #", "#  ##", "#   #");
        put('O', " ## ", "#  #", "#  #", "#  #", " ## ");
        put('P', "### ", "#  #", "### ", "#   ", "#   ");
        put('R', "### ", "#  #", "### ", "# # ", "#  #");
        put('S', " ###", "#   ", " ## ", "   #", "### ");
        put('T', "###", " # ", " # ", " # ", " # ");
        put('U', "#  #", "#  #", "#  #", "#  #", " ## ");
        put('V', "#   #", "#   #", "#   #", " # # ", "  #  ");
        put('W', "#   #", "#   #", "# # #", "## ##", "#   #");
        put('Y', "# #", "# #", " # ", " # ", " # ");
        put('0', " ## ", "#  #", "#  #", "#  #", " ## ");
        put('1', " # ", "## ", " # ", " # ", "###");
        put('2', "### ", "   #", " ## ", "#   ", "####");
        put('3', "### ", "   #", " ## ", "   #", "### ");
        put('4', "#  #", "#  #", "####", "   #", "   #");
        put('5', "####", "#   ", "### ", "   #", "### ");
        put('6', " ## ", "#   ", "### ", "#  #", " ## ");
        put('7', "####", "   #", "  # ", " #  ", " #  ");
        put('8', " ## ", "#  #", " ## ", "#  #", " ## ");
        put('9', " ## ", "#  #", " ###", "   #", " ## ");
        put(':', " ", "#", " ", "#", " ");
        put(' ', "  ", "  ", "  ", "  ", "  ");
    }

    private BlockLetters() {}

    private static void put(char letter, String... rows) {
        SHAPES.put(letter, rows);
    }

    /** Five rows; letters that have no shape are left out. */
    static String[] rows(String text) {
        StringBuilder[] rows = new StringBuilder[ROWS];
        for (int r = 0; r < ROWS; r++) {
            rows[r] = new StringBuilder();
        }
        for (char c : text.toUpperCase(Locale.ROOT).toCharArray()) {
            String[] shape = SHAPES.get(c);
            if (shape == null) {
                continue;
            }
            for (int r = 0; r < ROWS; r++) {
                rows[r].append(shape[r].replace("#", "██").replace(" ", "  ")).append("  ");
            }
        }
        String[] text5 = new String[ROWS];
        for (int r = 0; r < ROWS; r++) {
            text5[r] = rows[r].toString().stripTrailing();
        }
        return text5;
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.yaml;

import java.util.Collection;
import java.util.Locale;
import java.util.Optional;

/** The valid word that a misspelt one was probably meant to be. */
public final class Nearest {
    /** Longer input is no misspelling of any word of ours. */
    private static final int LENGTH_MAX = 64;

    private Nearest() {}

    /** Empty if no word is near: a third of the longer word's letters may differ, and at least one. */
    public static Optional<String> of(String given, Collection<String> words) {
        if (given.length() > LENGTH_MAX) {
            return Optional.empty();
        }
        String plain = plain(given);
        String best = null;
        int bestDistance = Integer.MAX_VALUE;
        for (String word : words) {
            int distance = distance(plain, plain(word));
            int allowed = Math.max(1, Math.max(plain.length(), word.length()) / 3);
            if (distance <= allowed && distance < bestDistance) {
                best = word;
                bestDistance = distance;
            }
        }
        return Optional.ofNullable(best);
    }

    private static String plain(String word) {
        return word.toLowerCase(Locale.ROOT).replace('_', '-').replace(' ', '-');
    }

    /**
     * Damerau–Levenshtein distance in its restricted form (optimal string alignment): insertions, deletions,
     * substitutions and swaps of neighbours, no substring edited twice.
     */
    static int distance(String a, String b) {
        int[][] d = new int[a.length() + 1][b.length() + 1];
        for (int i = 0; i <= a.length(); i++) {
            d[i][0] = i;
        }
        for (int j = 0; j <= b.length(); j++) {
            d[0][j] = j;
        }
        for (int i = 1; i <= a.length(); i++) {
            for (int j = 1; j <= b.length(); j++) {
                int substitution = a.charAt(i - 1) == b.charAt(j - 1) ? 0 : 1;
                d[i][j] = Math.min(Math.min(d[i - 1][j] + 1, d[i][j - 1] + 1), d[i - 1][j - 1] + substitution);
                if (i > 1 && j > 1 && a.charAt(i - 1) == b.charAt(j - 2) && a.charAt(i - 2) == b.charAt(j - 1)) {
                    d[i][j] = Math.min(d[i][j], d[i - 2][j - 2] + 1);
                }
            }
        }
        return d[a.length()][b.length()];
    }
}

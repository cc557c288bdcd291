// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load;

import dev.loadwitness.runlog.Shown;

/**
 * Takes apart what a worker says, and nothing that a worker never says: a driver in the same process can write there too.
 * What cannot be is an {@link IllegalArgumentException} that says why.
 */
final class WorkerWords {
    private static final long MOST_COUNT = 1_000_000_000_000_000L;
    private static final double MOST_SECONDS = 1e9;
    private static final double MOST_VALUE = 1e15;
    private static final int MOST_EDGES = 256;
    private static final int LONGEST_TEXT = 2000;

    private WorkerWords() {}

    /** For the log and the screen: on one line, of bounded length. */
    static String text(String said) {
        return Shown.line(said, LONGEST_TEXT);
    }

    /** @param before what it said last; counts do not go back */
    static Progress progress(String said, Progress before) {
        String[] w = words(said, 3);
        Progress now = new Progress(count(w[0], Long.MAX_VALUE), count(w[1], MOST_COUNT), count(w[2], MOST_COUNT));
        if (now.ownNanos() < before.ownNanos()
                || now.verified() < before.verified()
                || now.errors() < before.errors()) {
            throw new IllegalArgumentException("its count went back, from " + before);
        }
        return now;
    }

    static LoadFact.Level level(String said) {
        String[] w = words(said, 2);
        return new LoadFact.Level(number(w[0], 1), number(w[1], MOST_SECONDS));
    }

    static LoadFact.Edges edges(String said) {
        String[] w = words(said, 4);
        String[] edges = w[3].split(",", MOST_EDGES + 1);
        if (edges.length > MOST_EDGES) {
            throw new IllegalArgumentException("there are more than " + MOST_EDGES + " edges");
        }
        long last = 0;
        for (String edge : edges) {
            long now = count(edge, MOST_COUNT);
            if (now < last) {
                throw new IllegalArgumentException("an edge comes before the one before it");
            }
            last = now;
        }
        return new LoadFact.Edges(number(w[0], MOST_SECONDS), number(w[1], 1), number(w[2], MOST_SECONDS), w[3]);
    }

    static LoadFact.Tuned tuned(String said) {
        String[] w = words(said, 4);
        boolean chosen = oneOf(w[2], "chosen", "tried");
        // Not a number where nothing was measured; that stays out of the log.
        double value = w[1].equals("NaN") ? Double.NaN : number(w[1], MOST_VALUE);
        return new LoadFact.Tuned(text(w[3]), oneOf(w[0], "watts", "rate"), value, chosen);
    }

    /** The last word may have spaces in it. */
    private static String[] words(String said, int count) {
        String[] words = said.split(" ", count);
        if (words.length < count) {
            throw new IllegalArgumentException("words are missing");
        }
        return words;
    }

    private static boolean oneOf(String word, String yes, String no) {
        if (!word.equals(yes) && !word.equals(no)) {
            throw new IllegalArgumentException("one word is neither " + yes + " nor " + no);
        }
        return word.equals(yes);
    }

    private static long count(String word, long most) {
        long count = Long.parseLong(word);
        if (count < 0 || count > most) {
            throw new IllegalArgumentException("a count is not from 0 to " + most);
        }
        return count;
    }

    /** Whether it can be a power or a rate. */
    static boolean isValue(double number) {
        return isWithin(number, MOST_VALUE);
    }

    private static boolean isWithin(double number, double most) {
        return number >= 0 && number <= most;
    }

    private static double number(String word, double most) {
        double number = Double.parseDouble(word);
        if (!isWithin(number, most)) {
            throw new IllegalArgumentException("a number is not from 0 to " + most);
        }
        return number;
    }
}

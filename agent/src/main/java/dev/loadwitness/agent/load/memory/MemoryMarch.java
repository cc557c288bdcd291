// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.memory;

/**
 * March C−: {⇕(w0); ⇑(r0,w1); ⇑(r1,w0); ⇓(r0,w1); ⇓(r1,w0); ⇕(r0)}, where 0 is a data background and 1 its complement,
 * run once for each of the seven backgrounds of a 64-bit word.
 *
 * <p>Finds every stuck-at, transition and unlinked coupling fault (inversion, idempotent, state) between words, and every
 * address decoder fault; between the bits of one word, state and idempotent coupling as far as the backgrounds tell them
 * apart. Reference: A. J. van de Goor, Testing Semiconductor Memories, 1991; for words and backgrounds, van de Goor and
 * Tlili, March tests for word-oriented memories, 1998 (both from memory).
 */
final class MemoryMarch {
    /** How often somebody is asked whether to go on. */
    private final int wordsABlock;

    private final Words words;
    private final Observer observer;

    /** Hears of what a march test finds. */
    interface Observer {
        /** A block of words was taken through one element; returns whether to go on. */
        boolean blockDone();

        /** A word was not as it was written. */
        void mismatch(int address, long expected, long got);

        /** Between two elements, when every word has its expected value: the moment for a planted fault. */
        void betweenElements(Words words);
    }

    MemoryMarch(Words words, int wordsABlock, Observer observer) {
        this.words = words;
        this.wordsABlock = wordsABlock;
        this.observer = observer;
    }

    /** Runs all backgrounds; returns false if the observer ended it early. */
    boolean run() {
        for (long background : Backgrounds.OF_64_BITS) {
            if (!run(background)) {
                return false;
            }
        }
        return true;
    }

    private boolean run(long zero) {
        long one = ~zero;
        return write(zero) && up(zero, one) && up(one, zero) && down(zero, one) && down(one, zero) && read(zero);
    }

    private boolean write(long word) {
        for (int from = 0; from < words.size(); from += wordsABlock) {
            int to = Math.min(words.size(), from + wordsABlock);
            for (int a = from; a < to; a++) {
                words.write(a, word);
            }
            if (!observer.blockDone()) {
                return false;
            }
        }
        observer.betweenElements(words);
        return true;
    }

    private boolean up(long expected, long next) {
        for (int from = 0; from < words.size(); from += wordsABlock) {
            int to = Math.min(words.size(), from + wordsABlock);
            for (int a = from; a < to; a++) {
                check(a, expected);
                words.write(a, next);
            }
            if (!observer.blockDone()) {
                return false;
            }
        }
        observer.betweenElements(words);
        return true;
    }

    private boolean down(long expected, long next) {
        for (int to = words.size(); to > 0; to -= wordsABlock) {
            int from = Math.max(0, to - wordsABlock);
            for (int a = to - 1; a >= from; a--) {
                check(a, expected);
                words.write(a, next);
            }
            if (!observer.blockDone()) {
                return false;
            }
        }
        observer.betweenElements(words);
        return true;
    }

    private boolean read(long expected) {
        for (int from = 0; from < words.size(); from += wordsABlock) {
            int to = Math.min(words.size(), from + wordsABlock);
            for (int a = from; a < to; a++) {
                check(a, expected);
            }
            if (!observer.blockDone()) {
                return false;
            }
        }
        return true;
    }

    private void check(int address, long expected) {
        long got = words.read(address);
        if (got != expected) {
            observer.mismatch(address, expected, got);
        }
    }
}

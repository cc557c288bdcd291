// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.gpu;

import static org.assertj.core.api.Assertions.assertThat;

import org.junit.jupiter.api.Test;

final class TrafficMemoryTest {
    @Test
    void sumsInClosedFormAreThoseOfWordsPassedOneByOne() {
        int size = 48;
        int[] model = new int[size];
        for (int i = 0; i < size; i++) {
            model[i] = i * MultiplyAdd.ODD + TrafficMemory.ADDEND;
        }
        TrafficMemory words = new TrafficMemory(size);
        int at = 0;
        for (int count : new int[] {16, 16, 16, 32, 32, 144, 16, 48, 96, 16}) {
            int plain = 0;
            int weighted = 0;
            for (int n = 0; n < count; n++) {
                plain += model[at];
                weighted += model[at] * (2 * at + 1);
                model[at] = model[at] * TrafficMemory.FACTOR + TrafficMemory.ADDEND;
                at = (at + 1) % size;
            }
            assertThat(words.pass(count)).containsExactly(plain, weighted);
            for (int i = 0; i < size; i++) {
                assertThat(words.word(i)).as("word %d", i).isEqualTo(model[i]);
            }
        }
    }

    @Test
    void sumsOfAGibibyteDoNotOverflowOnTheWay() {
        long size = 1L << 28;
        int plain = 0;
        int weighted = 0;
        for (int i = 0; i < size; i++) {
            int word = i * MultiplyAdd.ODD + TrafficMemory.ADDEND;
            plain += word;
            weighted += word * (2 * i + 1);
        }
        assertThat(new TrafficMemory(size).pass(size)).containsExactly(plain, weighted);
    }
}

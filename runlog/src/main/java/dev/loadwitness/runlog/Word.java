// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

import java.util.Arrays;
import java.util.Locale;
import java.util.Optional;

/** A word of the run log's fixed vocabulary: {@code GPU_DISCRETE} in Java is {@code gpu-discrete} in the file. */
public interface Word {
    String name();

    /** The word as it stands in files and on screens. */
    default String word() {
        return name().toLowerCase(Locale.ROOT).replace('_', '-');
    }

    /** The member of {@code family} written as {@code word}, or empty if this version does not know it. */
    static <E extends Enum<E> & Word> Optional<E> find(Class<E> family, String word) {
        return Arrays.stream(family.getEnumConstants())
                .filter(e -> e.word().equals(word))
                .findFirst();
    }
}

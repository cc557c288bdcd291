// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.reporter.scan.follow.At;

/**
 * Where in the log to look.
 *
 * @param place for example {@code line 812}
 * @param at position in the run, for example {@code 22:14} (minutes and seconds since the start of its segment)
 * @param text what is to be seen there
 */
public record Evidence(String place, String at, String text) {
    public Evidence {
        requireNonNull(place, "place");
        requireNonNull(at, "at");
        requireNonNull(text, "text");
    }

    static Evidence of(At at, String text) {
        return new Evidence(at.place().toString(), at.clock(), text);
    }
}

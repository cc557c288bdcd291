// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.machine;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Role;
import java.util.Optional;
import org.jspecify.annotations.Nullable;

/**
 * One fan over the run. Hot: at or above the procedure's temperature. Of a fan that does not say what it cools, "its chip" is
 * the coolest of those that are read.
 *
 * @param cools the chip that it says it cools
 * @param highestRpm NaN if it never answered
 * @param hotSeconds sampled time in which its chip was read and hot
 * @param still longest time in a row at 0 rpm, after it had turned, with its chip hot
 * @param stillOther the same with another chip hot and its own not; only of a fan that does not say what it cools
 * @param silent longest time in a row without an answer, after it had turned, with its chip hot
 * @param neverTurned longest time in a row at 0 rpm, before it ever turned, with its chip hot
 */
public record FanTally(
        Channel channel,
        Optional<Role> cools,
        double highestRpm,
        double hotSeconds,
        Stretch still,
        Stretch stillOther,
        Stretch silent,
        Stretch neverTurned) {
    /**
     * A time in a row.
     *
     * @param begin null if there was none
     * @param celsius highest temperature meanwhile
     */
    public record Stretch(@Nullable At begin, double seconds, double celsius) {
        static final Stretch NONE = new Stretch(null, 0, Double.NaN);
    }
}

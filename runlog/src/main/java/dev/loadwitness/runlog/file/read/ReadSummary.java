// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.read;

import dev.loadwitness.runlog.file.line.Damage;
import java.util.List;
import java.util.Map;

/**
 * What reading a log to its end showed.
 *
 * @param records how many of each type, by the type's word, unknown types included
 * @param damages the first thousand, in order
 * @param damageCount all of them
 * @param lastChain chain value of the last record read; 64 zeros if none
 * @param closed true if the last record is a close
 * @param unknownMust true if a record or member that must be understood was not
 * @param parts the numbers of the files that were read, 1 first
 * @param sha256 one for each of these, lower-case hex: what {@code sha256sum} prints for it
 * @param bytes read in all files
 * @param strangers what has the name of a further part and is none of this log; the first hundred
 */
public record ReadSummary(
        Map<String, Long> records,
        List<Damage> damages,
        long damageCount,
        String lastChain,
        boolean closed,
        boolean unknownMust,
        List<Integer> parts,
        List<String> sha256,
        long bytes,
        List<Stranger> strangers) {
    public ReadSummary {
        records = Map.copyOf(records);
        damages = List.copyOf(damages);
        parts = List.copyOf(parts);
        sha256 = List.copyOf(sha256);
        strangers = List.copyOf(strangers);
    }

    /**
     * A file that was not read.
     *
     * @param file its name
     * @param why with its path, for people
     */
    public record Stranger(String file, String why) {}

    /** True if nothing but torn tails was found. */
    public boolean whole() {
        return damageCount == damages.stream().filter(Damage::isTornTail).count();
    }
}

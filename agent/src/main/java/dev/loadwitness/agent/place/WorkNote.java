// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.place;

import dev.loadwitness.runlog.disk.Folder;
import dev.loadwitness.runlog.disk.FoundEntry;
import dev.loadwitness.runlog.disk.Input;
import dev.loadwitness.runlog.disk.Input.Named;
import dev.loadwitness.runlog.disk.NewFile;
import dev.loadwitness.runlog.disk.Self;
import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.InvalidPathException;
import java.nio.file.Path;
import java.security.SecureRandom;
import java.util.HexFormat;
import java.util.Optional;

/**
 * Says where a log is written that will lie in the note's folder in the end. Anybody who touches a stick can write such a
 * note; so it is obeyed only if the folder that it names is this user's and holds the same words as a mark, which nobody
 * else can put there.
 *
 * @param text of the note, which no other run has: there is a random number in it
 * @param folder where the log is written
 */
public record WorkNote(String text, Path folder) {
    /** The note's name, beside where the log will lie. */
    public static final String NAME = "run.elsewhere";

    /** The mark's name, in the folder where the log is written. */
    public static final String MARK = "run.work";

    private static final String BEGINS = "The log of this run is written in ";
    private static final String NUMBER = "\nNumber of this note: ";
    private static final int MOST_BYTES = 16 << 10;
    private static final int RANDOM_BYTES = 16;

    public static WorkNote fresh(Path folder) {
        byte[] number = new byte[RANDOM_BYTES];
        new SecureRandom().nextBytes(number);
        String text = BEGINS + folder + "\nand copied here when the run is over." + NUMBER
                + HexFormat.of().formatHex(number) + "\n";
        return new WorkNote(text, folder);
    }

    /** Puts the mark into the folder that it names, and the note into {@code out}. */
    public void write(Path work, Path out) throws IOException {
        byte[] bytes = text.getBytes(StandardCharsets.UTF_8);
        NewFile.at(work.resolve(MARK)).write(bytes);
        NewFile.at(out.resolve(NAME)).write(bytes);
    }

    /** Whether this very note lies in {@code out}. */
    public boolean isIn(Path out) throws IOException {
        return Input.text(out.resolve(NAME), Named.BY_PLACE, MOST_BYTES).equals(text);
    }

    /**
     * Reads what a note says; not yet whether it is to be believed.
     *
     * @throws IOException if it cannot be read, or is no note of ours
     */
    public static WorkNote read(Path note) throws IOException {
        String text = Input.text(note, Named.BY_PLACE, MOST_BYTES);
        String first = text.lines().findFirst().orElse("");
        try {
            Path folder = Path.of(first.startsWith(BEGINS) ? first.substring(BEGINS.length()) : "");
            if (folder.isAbsolute() && text.contains(NUMBER)) {
                return new WorkNote(text, folder);
            }
        } catch (InvalidPathException e) {
            throw new IOException(note + " names no folder that can be: " + e.getMessage(), e);
        }
        throw new IOException(
                note + " does not say where the log of a run is written; look for its run.jsonl yourself");
    }

    /**
     * Whether this program, as this user, wrote its mark into the folder.
     *
     * @param note for the message
     * @throws IOException if not
     */
    public void check(Path note) throws IOException {
        Optional<FoundEntry> work = FoundEntry.look(folder).filter(FoundEntry::isFolder);
        if (work.isEmpty()) {
            throw new IOException(note + " says that the log is written in '" + folder
                    + "', and there is none: it lay on another machine's disk, or was moved");
        }
        try {
            Folder place = Folder.at(folder);
            place.check();
            if (Self.user().isPresent() && !place.isOwn()) {
                throw new IOException("it belongs to user " + work.get().owner());
            }
            place.checkOwn(MARK);
            if (Input.text(folder.resolve(MARK), Named.BY_PLACE, MOST_BYTES).equals(text)) {
                return;
            }
            throw new IOException("there is another note's mark in it");
        } catch (IOException e) {
            throw new IOException(
                    note + " names " + folder + ", which this program did not make for that run (" + e.getMessage()
                            + "). Nothing was done there; if it holds the run's log, copy its run*.jsonl here yourself",
                    e);
        }
    }

    /** Whether {@code head} is how a note or a mark begins. */
    public static boolean isBegun(String head) {
        return head.startsWith(BEGINS);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.place;

import dev.loadwitness.runlog.disk.Folder;
import java.io.IOException;
import java.nio.file.FileAlreadyExistsException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Instant;
import java.time.ZoneOffset;
import java.time.format.DateTimeFormatter;
import java.util.List;
import java.util.Locale;
import java.util.Optional;

/**
 * Where procedures are looked up and where logs go by default. The launchers say it by two properties of the Java
 * machine: {@value #HOME} is the portable bundle's folder on the stick, {@value #THRESHOLDS} the procedures of an
 * installed package. Without them, both lie in the current folder, as in a checkout.
 *
 * @param thresholds the folder of procedures; may not exist
 * @param runs the folder that holds a folder for each ticket; made on first use
 */
public record Home(Path thresholds, Path runs) {
    public static final String HOME = "loadwitness.home";
    public static final String THRESHOLDS = "loadwitness.thresholds";

    /** The journal of attempts. */
    public static final String JOURNAL = "loadwitness-journal.jsonl";

    private static final String SUFFIX = ".yaml";
    private static final DateTimeFormatter FOLDER_TIME =
            DateTimeFormatter.ofPattern("yyyyMMdd'T'HHmmss'Z'", Locale.ROOT).withZone(ZoneOffset.UTC);
    private static final int MOST_IN_ONE_SECOND = 1000;

    public static Home ofThisProgram() {
        return of(Optional.ofNullable(System.getProperty(HOME)), Optional.ofNullable(System.getProperty(THRESHOLDS)));
    }

    static Home of(Optional<String> home, Optional<String> thresholds) {
        Path base = home.filter(h -> !h.isBlank()).map(Path::of).orElse(Path.of(""));
        return new Home(
                thresholds.filter(t -> !t.isBlank()).map(Path::of).orElse(base.resolve("thresholds")),
                base.resolve("runs"));
    }

    /** Where attempts are remembered: one file for all tickets of this stick, beside their folders. */
    public Path journal() {
        return runs.resolve(JOURNAL);
    }

    /**
     * The file that somebody means by {@code word}: a path if it has a folder or ends in {@code .yaml}, else the name of
     * a procedure that lies here.
     *
     * @return empty if there is no procedure of that name here; a path is given back whether or not there is such a file
     */
    public Optional<Path> procedure(String word) {
        boolean name = !word.isEmpty() && word.indexOf('/') < 0 && word.indexOf('\\') < 0 && !word.endsWith(SUFFIX);
        if (!name) {
            return Optional.of(Path.of(word));
        }
        return procedures().stream().filter(f -> name(f).equals(word)).findFirst();
    }

    /** All procedures that lie here, by name. */
    public List<Path> procedures() {
        try {
            return Folder.at(thresholds).names().stream()
                    .filter(name -> name.endsWith(SUFFIX))
                    .map(thresholds::resolve)
                    .filter(Files::isRegularFile)
                    .toList();
        } catch (IOException e) {
            return List.of(); // no such folder: then there are none
        }
    }

    /** The name by which {@link #procedure} finds a file. */
    public static String name(Path procedure) {
        String file = procedure.getFileName().toString();
        return file.endsWith(SUFFIX) ? file.substring(0, file.length() - SUFFIX.length()) : file;
    }

    /** The folder of a ticket's runs, with a name that any file system takes; {@code ticket} may be empty. */
    public Path ticketFolder(String ticket) {
        return runs.resolve(ticket.isBlank() ? "no-ticket" : SafeName.of(ticket));
    }

    /**
     * Makes a new folder for a run that begins at {@code now}: {@code runs/TICKET/20261125T140100Z}, with {@code -2} and
     * so on behind it if a run of the same second has that one. Never gives out a folder twice, to other processes
     * neither.
     */
    public Path makeRunFolder(String ticket, Instant now) throws IOException {
        Path parent = ticketFolder(ticket);
        Folder.at(parent).make();
        String name = FOLDER_TIME.format(now);
        for (int number = 1; number <= MOST_IN_ONE_SECOND; number++) {
            try {
                return Folder.at(parent).makeNew(number == 1 ? name : name + "-" + number);
            } catch (FileAlreadyExistsException e) {
                // The next number, then.
            }
        }
        throw new IOException(
                parent + " has " + MOST_IN_ONE_SECOND + " runs of one second; is the clock standing still?");
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import dev.loadwitness.runlog.disk.DiskException;
import dev.loadwitness.runlog.disk.Input;
import dev.loadwitness.runlog.disk.NewFile;
import java.io.IOException;
import java.io.InputStream;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.util.Arrays;
import java.util.List;

/**
 * What a command writes: a whole file or none, and never in the place of what it read, of a run log or of a key. Where it
 * may replace something at all, that is an older file of the same kind, or an empty one.
 */
final class Output {
    private final Path path;
    private final NewFile file;
    private final String option;

    /** How a file begins that may be replaced; empty if none may. */
    private final byte[] kind;

    private Output(Path path, NewFile file, String option, byte[] kind) {
        this.path = path;
        this.file = file;
        this.option = option;
        this.kind = kind;
    }

    /** @param option where the user names another file, for the message */
    static Output to(Path path, String option) {
        return new Output(path, NewFile.at(path), option, new byte[0]);
    }

    /**
     * Takes the place of an older file of its kind.
     *
     * @param beginning how all of its kind begin
     * @param inputs what the command reads
     */
    Output replacing(String beginning, List<Path> inputs) {
        return new Output(path, file.replacing().keeping(inputs), option, beginning.getBytes(StandardCharsets.UTF_8));
    }

    /** Says at once what {@link #write} would refuse after long work. */
    void check() throws Complaint {
        attempt(file::check);
    }

    void write(byte[] bytes) throws Complaint {
        attempt(() -> file.write(bytes));
    }

    void write(String text) throws Complaint {
        write(text.getBytes(StandardCharsets.UTF_8));
    }

    @FunctionalInterface
    private interface Step {
        void run() throws IOException;
    }

    private void attempt(Step step) throws Complaint {
        try {
            if (kind.length > 0) {
                refuseAnotherKind();
            }
            step.run();
        } catch (IOException e) {
            throw new Complaint(Sysexits.CANNOT_CREATE, e.getMessage() + " (" + option + ")");
        }
    }

    private void refuseAnotherKind() throws IOException {
        byte[] head;
        // By its place: a link of that name may lead to anything, and /dev/stdout is one.
        try (InputStream old = Input.open(path, Input.Named.BY_PLACE, Long.MAX_VALUE)) {
            head = old.readNBytes(kind.length);
        } catch (DiskException e) {
            if (e.kind() == DiskException.Kind.MISSING) {
                return;
            }
            throw e;
        }
        if (head.length > 0 && !Arrays.equals(head, kind)) {
            throw new IOException(
                    path + " is there and is nothing that this command wrote, so it stays; choose another name");
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.runlog.disk.NewFile;
import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.util.List;

/** What a command writes: a whole file or none, and never in the place of what it read, of a run log or of a key. */
final class Output {
    private final NewFile file;
    private final String option;

    /** @param option where the user names another file, for the message */
    private Output(NewFile file, String option) {
        this.file = file;
        this.option = option;
    }

    static Output to(Path file, String option) {
        return new Output(NewFile.at(file), option);
    }

    /** Takes the place of what has its name already, if that is none of the inputs. */
    Output replacing(List<Path> inputs) {
        return new Output(file.replacing().keeping(inputs), option);
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
            step.run();
        } catch (IOException e) {
            throw new Complaint(Exit.CANNOT_CREATE, e.getMessage() + " (" + option + ")");
        }
    }
}

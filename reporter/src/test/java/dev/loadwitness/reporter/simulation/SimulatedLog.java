// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.EarlierAttempt;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.file.line.LogPosition;
import dev.loadwitness.runlog.file.store.LogStore;
import dev.loadwitness.runlog.file.write.AttemptJournal;
import dev.loadwitness.runlog.file.write.RunLogWriter;
import dev.loadwitness.runlog.file.write.WriterListener;
import dev.loadwitness.runlog.file.write.WriterOptions;
import java.io.IOException;
import java.io.UncheckedIOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.nio.file.StandardOpenOption;
import java.time.Duration;
import java.util.Arrays;
import java.util.List;
import java.util.Random;
import java.util.function.Consumer;
import java.util.regex.Matcher;
import java.util.regex.Pattern;

/** Puts simulated runs on the disk with the real writer, and damages them there as life or a cheat would. */
public final class SimulatedLog {
    private static final int RECORDS_AHEAD = 2000;
    private static final Duration PATIENCE = Duration.ofSeconds(60);

    private SimulatedLog() {}

    /**
     * Writes {@code <stem>.jsonl} into {@code folder}; where the machine dies, the file ends inside its last line.
     *
     * @return what the journal would tell the next attempt on the ticket
     */
    public static EarlierAttempt write(Simulation simulation, Path folder, String stem) throws IOException {
        EarlierAttempt told = write(simulation::play, folder, stem);
        if (!simulation.scenario().diesSuddenly()) {
            return told;
        }
        Path log = folder.resolve(stem + ".jsonl");
        breakOff(log, simulation.scenario().seed());
        return new EarlierAttempt(told.runId(), lastWholeChain(log), AttemptJournal.OPEN);
    }

    /** Writes whatever records {@code play} gives, header first. */
    static EarlierAttempt write(Consumer<Consumer<LogRecord>> play, Path folder, String stem) throws IOException {
        try (Recorder recorder = new Recorder(folder, stem)) {
            play.accept(recorder);
            return recorder.finish();
        } catch (UncheckedIOException e) {
            throw e.getCause();
        }
    }

    /** Cuts the file inside its last line, as a power cut during an append does. */
    public static void breakOff(Path log, long seed) throws IOException {
        byte[] bytes = Files.readAllBytes(log);
        int lineStart = bytes.length - 1;
        while (lineStart > 0 && bytes[lineStart - 1] != '\n') {
            lineStart--;
        }
        int line = bytes.length - lineStart;
        int kept = line / 4 + new Random(seed).nextInt(line / 2);
        Files.write(log, Arrays.copyOf(bytes, lineStart + kept));
    }

    private static String lastWholeChain(Path log) throws IOException {
        List<String> lines = Files.readAllLines(log, StandardCharsets.UTF_8);
        String whole = lines.get(lines.size() - 2); // the last one is torn
        return whole.substring(whole.length() - 66, whole.length() - 2);
    }

    /**
     * Copies a log and makes one reading of one channel cooler without computing the chain again: what somebody does who
     * wants a pass.
     *
     * @param sampleNumber which sample, from 0
     * @param channel position in the sample's values
     * @param celsius what it shall read
     * @return number of the line that was changed, from 1
     */
    public static long tamper(Path log, Path copy, long sampleNumber, int channel, double celsius) throws IOException {
        List<String> lines = Files.readAllLines(log, StandardCharsets.UTF_8);
        Pattern values = Pattern.compile("\"v\":\\[([^\\]]*)\\]");
        long seen = 0;
        for (int i = 0; i < lines.size(); i++) {
            String line = lines.get(i);
            if (!line.contains("\"type\":\"sample\"") || seen++ != sampleNumber) {
                continue;
            }
            Matcher found = values.matcher(line);
            if (!found.find()) {
                throw new IOException(log + " line " + (i + 1) + " has no values");
            }
            String[] numbers = found.group(1).split(",", -1);
            String before = numbers[channel];
            numbers[channel] = celsius == Math.rint(celsius) ? Long.toString((long) celsius) : Double.toString(celsius);
            if (before.equals(numbers[channel])) {
                throw new IOException("line " + (i + 1) + " reads " + before + " already");
            }
            lines.set(i, line.substring(0, found.start(1)) + String.join(",", numbers) + line.substring(found.end(1)));
            Files.writeString(
                    copy, String.join("\n", lines) + "\n", StandardCharsets.UTF_8, StandardOpenOption.CREATE_NEW);
            return i + 1L;
        }
        throw new IOException(log + " has only " + seen + " samples");
    }

    /** Gives records to the writer no faster than the disk takes them: otherwise the writer would drop samples. */
    private static final class Recorder implements Consumer<LogRecord>, AutoCloseable {
        private final Path folder;
        private final String stem;
        private RunLogWriter writer;
        private String runId = "";
        private String end = AttemptJournal.OPEN;
        private long given;

        Recorder(Path folder, String stem) {
            this.folder = folder;
            this.stem = stem;
        }

        @Override
        public void accept(LogRecord record) {
            try {
                if (record instanceof Header header) {
                    runId = header.runId();
                    writer = RunLogWriter.create(
                            LogStore.in(folder), stem, header, WriterOptions.defaults(WriterListener.NONE));
                    return;
                }
                if (record instanceof Boot boot && boot.at().segment() > 0) {
                    goOn(boot);
                    return;
                }
                long ticket = writer.append(record);
                if (ticket < 0 || (++given % RECORDS_AHEAD == 0 && !writer.awaitDurable(ticket, PATIENCE))) {
                    throw new IOException("the disk does not take the simulated log");
                }
                if (record instanceof Close close) {
                    end = close.reason();
                }
            } catch (IOException e) {
                throw new UncheckedIOException(e);
            } catch (InterruptedException e) {
                Thread.currentThread().interrupt();
                throw new UncheckedIOException(new IOException("interrupted", e));
            }
        }

        /** The machine was switched off: the log was left open, and goes on in another boot. */
        private void goOn(Boot boot) throws IOException {
            close();
            writer = RunLogWriter.resume(
                    LogStore.in(folder), stem, segment -> boot, WriterOptions.defaults(WriterListener.NONE));
        }

        EarlierAttempt finish() throws IOException {
            close();
            LogPosition last = writer.position();
            return new EarlierAttempt(runId, last.chain(), end);
        }

        @Override
        public void close() throws IOException {
            if (writer != null) {
                long lost = writer.close(PATIENCE);
                if (lost > 0) {
                    throw new IOException("the last " + lost + " records of the simulated log are not on the disk");
                }
            }
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import dev.loadwitness.runlog.file.store.CheckedStore;
import dev.loadwitness.runlog.file.write.RecordQueue.Entry;
import java.io.IOException;
import java.time.Duration;
import java.util.List;
import java.util.Optional;
import java.util.stream.Stream;

/**
 * One batch on its way to the disk: tried until it is there, in the same file while that may help and then in a further one.
 * The writing thread's own.
 */
final class Delivery {
    private static final Duration LONGEST_BACK_OFF = Duration.ofSeconds(30);
    private static final int WRITE_FAILURES_BEFORE_NEW_PART = 3;

    private final OpenLog log;
    private final RecordQueue queue;
    private final WriterOptions options;
    private final List<Entry> batch;
    private final Lines lines;

    /**
     * False once only a further part can help: what the disk holds of this file can no longer be known, or its descriptor is
     * dead.
     */
    private boolean here = true;

    private boolean forced;
    private int failures;
    private String why = "";

    /** The batch, and before it what the disk has lost of what it had confirmed. */
    private List<Entry> pending;

    private Duration wait;

    // Of one attempt.
    private boolean hadRoom;
    private boolean begun;

    Delivery(OpenLog log, RecordQueue queue, WriterOptions options, List<Entry> batch) {
        this.log = log;
        this.queue = queue;
        this.options = options;
        this.batch = batch;
        this.lines = Lines.after(log.tail().end(), bodies(batch));
        this.pending = batch;
        this.wait = options.retry();
    }

    /** Returns true when the batch is on the disk, false if the owner gave up before. */
    boolean run() {
        while (true) {
            try {
                attempt();
                return true;
            } catch (IOException e) {
                failures++;
                why = CheckedStore.reason(e);
                if (!waitForNext(e)) {
                    return false;
                }
            }
        }
    }

    private void attempt() throws IOException {
        begun = false;
        // Asked before the attempt: room that comes while it fails is for the next one, in the same file.
        hadRoom = here && failures >= WRITE_FAILURES_BEFORE_NEW_PART && log.hasRoom();
        if (here && !log.tail().isCurrent()) {
            // Unmounted lazily, the disk still takes what is written, where nobody will find it.
            why = "the path leads to another file than the one that was written, or to none";
            leaveFile();
        }
        if (here) {
            log.tail().write(lines.bytes());
            forced = true;
            log.tail().force(batch, lines.end());
        } else {
            goOnInFurtherPart();
        }
        if (log.watch().back() && !log.reserve().isThere() && log.hasRoom()) {
            log.reserve().make();
        }
        queue.acknowledge(batch.get(batch.size() - 1).ticket(), log.tail().end().position());
    }

    private void leaveFile() {
        here = false;
        // An open file would keep a dead disk from being unmounted, and the stick from being mounted again.
        log.tail().leaveFile();
    }

    private void goOnInFurtherPart() throws IOException {
        takeUpAgain();
        List<Entry> again = log.tail().rewind();
        if (!again.isEmpty()) {
            why = "the disk had lost the last " + again.size() + " records that it had confirmed; " + why;
            pending = Stream.concat(again.stream(), pending.stream()).toList();
        }
        begun = true;
        log.parts().open(bodies(pending));
        options.listener().partBegun(log.tail().end().part(), why);
    }

    /** Finds the place again through its path, and locks it again: after a re-plug the old descriptors are dead. */
    private void takeUpAgain() throws IOException {
        log.lock().release();
        Optional<String> elsewhere = log.tail().elsewhere();
        if (elsewhere.isPresent()) {
            throw new Elsewhere(elsewhere.get());
        }
        log.lock().take();
    }

    /** The path does not lead to this log. */
    private static final class Elsewhere extends IOException {
        private static final long serialVersionUID = 1L;

        Elsewhere(String why) {
            super(why);
        }
    }

    /** Sees to it that the next attempt can do better, and waits if nothing but time can help; false if the owner gave up. */
    private boolean waitForNext(IOException failed) {
        if (here && forced) {
            leaveFile();
            return true;
        }
        // If our log was looked for in vain, room was not what lacked, even if it is back by now.
        Optional<String> elsewhere = failed instanceof Elsewhere
                ? Optional.ofNullable(failed.getMessage())
                : log.tail().elsewhere();
        if (elsewhere.isEmpty() && log.reserve().giveUp()) {
            options.listener().storageLow(why + "; the reserve of " + options.ballastBytes() + " bytes is given up");
            return true;
        }
        if (here && (!log.tail().isCurrent() || hadRoom)) {
            leaveFile();
        }
        log.watch().lost(elsewhere.orElse(why));
        if (!queue.pause(wait)) {
            return false;
        }
        // Looking whether our log is there again costs nothing; parts that fail are made ever more rarely.
        wait = begun ? min(wait.multipliedBy(2), LONGEST_BACK_OFF) : options.retry();
        return true;
    }

    private static Duration min(Duration a, Duration b) {
        return a.compareTo(b) < 0 ? a : b;
    }

    private static List<byte[]> bodies(List<Entry> entries) {
        return entries.stream().map(Entry::body).toList();
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.TornTail;
import dev.loadwitness.runlog.file.line.Chain;
import dev.loadwitness.runlog.file.line.Format;
import dev.loadwitness.runlog.file.line.RecordEncoder;
import dev.loadwitness.runlog.file.read.LogScan;
import dev.loadwitness.runlog.file.store.CheckedStore;
import dev.loadwitness.runlog.file.store.LogFile;
import dev.loadwitness.runlog.file.store.LogStore;
import dev.loadwitness.runlog.file.write.RunLogWriter.LeftBehind;
import java.io.IOException;
import java.io.InputStream;
import java.security.MessageDigest;
import java.util.HexFormat;
import java.util.List;
import java.util.Optional;

/**
 * Where an interrupted log is gone on with.
 *
 * @param end where it ends, as far as it counts
 * @param segment the one that follows
 * @param here whether it is gone on with in the same file
 * @param needsFeed whether what stands last there lacks its line feed
 * @param torn what a crash left there behind the last whole record
 */
record Resumption(
        LogEnd end,
        int segment,
        boolean here,
        boolean needsFeed,
        Optional<TornTail> torn,
        Optional<LeftBehind> leftBehind) {
    private static final long TAIL_THAT_A_CRASH_CAN_SPOIL = 2L * Format.MAX_BATCH + Format.MAX_LINE;

    /**
     * Only reads.
     *
     * @param scan one that has been run
     */
    static Resumption after(LogScan scan, CheckedStore store, String stem) throws IOException {
        LogScan.State end = scan.end();
        int lastFile = lastPart(store, stem);
        String name = Format.fileName(stem, lastFile);
        long size = sizeOf(store, name);
        Optional<LogScan.State> before = scan.endBeforeSpoiltBytes()
                .filter(state -> state.part() == lastFile && size - state.end() <= TAIL_THAT_A_CRASH_CAN_SPOIL);
        if (before.isPresent() || end.part() != lastFile) {
            // Whole records lie behind the damage, or the last file has none: only a further part can say so.
            LogScan.State good =
                    before.orElse(new LogScan.State(lastFile, end.n(), end.chain(), 0, true, end.segment()));
            Optional<LeftBehind> left = before.flatMap(state -> scan.firstDamage())
                    .map(damage -> new LeftBehind(damage, end.n() - good.n()));
            return new Resumption(
                    new LogEnd(good.part(), good.n(), good.chain(), good.end()),
                    good.segment() + 1,
                    false,
                    false,
                    Optional.empty(),
                    left);
        }
        Optional<TornTail> torn = torn(store, name, end.end(), size);
        return new Resumption(
                new LogEnd(lastFile, end.n(), end.chain(), size),
                end.segment() + 1,
                true,
                torn.isPresent() || !end.terminated(),
                torn,
                Optional.empty());
    }

    private static int lastPart(LogStore store, String stem) throws IOException {
        List<String> names = store.list();
        int part = 1;
        while (names.contains(Format.fileName(stem, part + 1))) {
            part++;
        }
        return part;
    }

    private static long sizeOf(LogStore store, String name) throws IOException {
        try (LogFile file = store.append(name)) {
            return file.size();
        }
    }

    private static Optional<TornTail> torn(LogStore store, String name, long from, long size) throws IOException {
        if (from >= size) {
            return Optional.empty();
        }
        MessageDigest digest = Chain.sha256();
        try (InputStream in = store.read(name)) {
            in.skipNBytes(from);
            byte[] chunk = new byte[64 << 10];
            long left = size - from;
            while (left > 0) {
                int count = in.read(chunk, 0, (int) Math.min(chunk.length, left));
                if (count < 0) {
                    throw new IOException(store.describe(name) + " became shorter while it was read");
                }
                digest.update(chunk, 0, count);
                left -= count;
            }
        }
        return Optional.of(new TornTail(from, size - from, HexFormat.of().formatHex(digest.digest())));
    }

    /** Goes on with the log: returns when that boot record, with what is torn filled in, is on the disk. */
    void begin(OpenLog log, Boot boot) throws IOException {
        byte[] body = RecordEncoder.body(
                new Boot(boot.at(), boot.utc(), boot.bootId(), boot.bootTimeSeconds(), boot.utcTrusted(), torn));
        if (here) {
            Lines lines = Lines.after(end, List.of(body));
            log.begin(log.store().append(log.tail().name()), needsFeed ? lines.onNewLine() : lines);
        } else {
            log.beginInFurtherPart(body);
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.TornTail;
import dev.loadwitness.runlog.file.line.Chain;
import dev.loadwitness.runlog.file.line.Format;
import dev.loadwitness.runlog.file.read.Collector;
import dev.loadwitness.runlog.file.read.Example;
import dev.loadwitness.runlog.file.read.LogScan;
import dev.loadwitness.runlog.file.store.CheckedStore;
import dev.loadwitness.runlog.file.store.LogFile;
import java.io.IOException;
import java.nio.ByteBuffer;
import java.util.Arrays;
import java.util.HexFormat;
import java.util.List;
import org.junit.jupiter.api.Test;

class ResumptionTest {
    private final FaultyStore disk = new FaultyStore(71);
    private final CheckedStore store = new CheckedStore(disk);
    private final List<byte[]> lines = Example.lines(Example.records()).subList(0, 7);
    private final byte[] log = Example.bytes(lines);

    private Resumption of(byte[] bytes) throws IOException {
        try (LogFile file = store.create("run.jsonl")) {
            file.write(ByteBuffer.wrap(bytes));
        }
        return again();
    }

    private Resumption again() throws IOException {
        LogScan scan = new LogScan(store, "run.jsonl", new Collector());
        scan.run();
        return Resumption.after(scan, store, "run");
    }

    private int start(int line) {
        return Example.bytes(lines.subList(0, line)).length;
    }

    @Test
    void aWholeLogIsGoneOnWithBehindItsLastByte() throws Exception {
        Resumption found = of(log);
        assertThat(found.here()).isTrue();
        assertThat(found.needsFeed()).isFalse();
        assertThat(found.torn()).isEmpty();
        assertThat(found.segment()).as("behind the boot record of segment 1").isEqualTo(2);
        assertThat(found.end().n()).isEqualTo(6);
        assertThat(found.end().bytes()).isEqualTo(log.length);
    }

    @Test
    void aTornLineIsDeclaredWithItsDigestAndEnded() throws Exception {
        Resumption found = of(Arrays.copyOf(log, log.length - 20));
        byte[] tail = Arrays.copyOfRange(log, start(6), log.length - 20);
        String digest = HexFormat.of().formatHex(Chain.sha256().digest(tail));
        assertThat(found.torn()).contains(new TornTail(start(6), tail.length, digest));
        assertThat(found.needsFeed()).isTrue();
        assertThat(found.segment()).isEqualTo(1);
        assertThat(found.end().n()).isEqualTo(5);
        assertThat(found.end().bytes()).as("it is written behind").isEqualTo(log.length - 20);
    }

    @Test
    void aRecordThatLacksOnlyItsLineFeedIsWholeAndGetsOne() throws Exception {
        Resumption found = of(Arrays.copyOf(log, log.length - 1));
        assertThat(found.torn()).isEmpty();
        assertThat(found.needsFeed()).isTrue();
        assertThat(found.end().n()).isEqualTo(6);
    }

    @Test
    void recordsBehindBytesThatACrashSpoiltAreLeftAndTheLogGoesOnElsewhere() throws Exception {
        Arrays.fill(log, start(3), start(4) - 1, (byte) 0);
        Resumption found = of(log);
        assertThat(found.here()).isFalse();
        assertThat(found.end().n()).isEqualTo(2);
        assertThat(found.end().bytes()).isEqualTo(start(3));
        assertThat(found.segment()).isEqualTo(1);
        assertThat(found.leftBehind())
                .hasValueSatisfying(left -> assertThat(left.records()).isEqualTo(4));
    }

    @Test
    void bytesThatNoCrashCanHaveSpoiltSoFarFromTheEndLeaveNothingBehind() throws Exception {
        byte[] longer =
                Example.bytes(Example.lines(Example.records(72, 12_000, 8).subList(0, 12_000)));
        assertThat(longer.length).isGreaterThan(2 * Format.MAX_BATCH + Format.MAX_LINE + start(1) + 1000);
        int from = Example.lines(Example.records(72, 1, 8).subList(0, 3)).stream()
                .mapToInt(line -> line.length)
                .sum();
        Arrays.fill(longer, from, from + 100, (byte) 0);
        Resumption found = of(longer);
        assertThat(found.here()).isTrue();
        assertThat(found.leftBehind()).isEmpty();
        assertThat(found.end().n()).isEqualTo(11_999);
    }

    @Test
    void aLastFileWithoutARecordIsGoneOnBehindInAFurtherOneAndNothingOfItCounts() throws Exception {
        of(log);
        disk.create("run.part2.jsonl").close();
        Resumption found = again();
        assertThat(found.here()).isFalse();
        assertThat(found.end().part()).isEqualTo(2);
        assertThat(found.end().bytes()).isZero();
        assertThat(found.end().n()).isEqualTo(6);
        assertThat(found.leftBehind()).isEmpty();
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.runlog.file.line.RecordEncoder;
import dev.loadwitness.runlog.file.read.Example;
import dev.loadwitness.runlog.file.store.CheckedStore;
import dev.loadwitness.runlog.file.store.LogFile;
import dev.loadwitness.runlog.file.write.RecordQueue.Entry;
import java.io.IOException;
import java.nio.ByteBuffer;
import java.util.ArrayList;
import java.util.List;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;

class DurableTailTest {
    private final Heard heard = new Heard();
    private final FaultyStore disk = new FaultyStore(41);
    private final MountPoint path = new MountPoint(disk);
    private final CheckedStore store = new CheckedStore(path);
    private final ReserveFile reserve = new ReserveFile(store, "run", Example.RUN, heard.options());
    private final DurableTail tail = new DurableTail(store, "run", LogEnd.NONE, new DiskWatch(heard.options()));
    private long ticket = 1;

    @BeforeEach
    void begin() throws IOException {
        tail.moveTo(store.create("run.jsonl"), LogEnd.NONE);
        tail.writeFirst(Lines.after(LogEnd.NONE, List.of(RecordEncoder.body(Example.header()))), reserve);
    }

    /** A batch of one record of that size. */
    private List<Entry> append(int size) throws IOException {
        byte[] body = new byte[size];
        ticket++;
        List<Entry> batch = List.of(new Entry(body, 0, ticket));
        Lines lines = Lines.after(tail.end(), List.of(body));
        tail.write(lines.bytes());
        tail.force(batch, lines.end());
        return batch;
    }

    @Test
    void itsEndMovesOnlyWhenTheForceHasReturned() throws Exception {
        append(100);
        LogEnd before = tail.end();
        disk.failForces(1);
        assertThatThrownBy(() -> append(100)).isInstanceOf(IOException.class);
        assertThat(tail.end()).isEqualTo(before);
        assertThat(before.bytes()).isLessThan(disk.usedBytes());
    }

    @Test
    void aFolderWithoutTheLogOrWithAnotherIsElsewhere() throws Exception {
        append(100);
        assertThat(tail.elsewhere()).isEmpty();
        FaultyStore other = new FaultyStore(42);
        path.mount(other);
        assertThat(tail.elsewhere()).hasValueSatisfying(why -> assertThat(why).contains("not there any more"));
        try (LogFile theirs = other.create("run.jsonl")) {
            theirs.write(ByteBuffer.allocate(10_000));
        }
        assertThat(tail.elsewhere()).hasValueSatisfying(why -> assertThat(why).contains("not this run's log"));
        path.unmount();
        assertThat(tail.elsewhere()).hasValueSatisfying(why -> assertThat(why).contains("cannot be reached"));
        path.mount(disk);
        assertThat(tail.elsewhere()).isEmpty();
    }

    @Test
    void whatTheDiskHasForgottenIsHandedBackInItsOrder() throws Exception {
        append(100);
        LogEnd held = tail.end();
        List<Entry> lost = new ArrayList<>(append(200));
        lost.addAll(append(300));
        disk.forget("run.jsonl", 500);
        assertThat(tail.elsewhere()).as("still this log").isEmpty();
        assertThat(tail.rewind()).isEqualTo(lost);
        assertThat(tail.end()).isEqualTo(held);
        assertThat(tail.rewind()).as("the second time").isEmpty();
    }

    @Test
    void ofWhatIsOnTheDiskTheLastQuarterOfAMebibyteIsKept() throws Exception {
        for (int i = 0; i < 8; i++) {
            append(100 << 10);
        }
        disk.forget("run.jsonl", 150 << 10);
        assertThat(tail.elsewhere()).isEmpty();
        disk.forget("run.jsonl", 150 << 10);
        assertThat(tail.elsewhere()).hasValueSatisfying(why -> assertThat(why).contains("lacks much"));
        assertThatThrownBy(tail::rewind).isInstanceOf(IOException.class);
    }

    @Test
    void onceInAFurtherFileNothingOfTheOneBeforeIsWrittenAgain() throws Exception {
        append(100);
        LogEnd end = tail.end();
        tail.moveTo(store.create("run.part2.jsonl"), new LogEnd(2, end.n(), end.chain(), 0));
        append(200);
        disk.forget("run.jsonl", 50);
        assertThat(tail.rewind()).isEmpty();
        disk.forget("run.part2.jsonl", 50);
        assertThat(tail.rewind()).hasSize(1);
    }

    @Test
    void theFirstRecordTakesTheReservesRoomOnAFullDisk() throws Exception {
        reserve.make();
        disk.setRoom(disk.usedBytes() + 10);
        Lines lines = Lines.after(tail.end(), List.of(new byte[500]));
        tail.writeFirst(lines, reserve);
        assertThat(reserve.isThere()).isFalse();
        assertThat(tail.end()).isEqualTo(lines.end());
        disk.setRoom(disk.usedBytes());
        assertThatThrownBy(() -> tail.writeFirst(Lines.after(tail.end(), List.of(new byte[500])), reserve))
                .hasMessageContaining("Make room");
        assertThat(tail.end()).isEqualTo(lines.end());
    }
}

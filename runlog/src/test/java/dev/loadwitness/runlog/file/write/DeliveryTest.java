// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.file.line.RecordEncoder;
import dev.loadwitness.runlog.file.read.Collector;
import dev.loadwitness.runlog.file.read.Example;
import dev.loadwitness.runlog.file.read.LogScan;
import dev.loadwitness.runlog.file.store.CheckedStore;
import java.io.IOException;
import java.util.List;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.Timeout;

/** What can be shown on one thread: nothing here waits, because waiting would be for a day. */
@Timeout(20)
class DeliveryTest {
    private final Heard heard = new Heard();
    private final FaultyStore disk = new FaultyStore(81);
    private final MountPoint path = new MountPoint(disk);
    private final WriterOptions options = heard.options();
    private final RecordQueue queue = new RecordQueue(options);
    private OpenLog log;

    @BeforeEach
    void begin() throws IOException {
        CheckedStore store = new CheckedStore(path);
        log = OpenLog.of(store, "run", Example.RUN, LogLock.take(store, "run"), LogEnd.NONE, options);
        log.begin(store.create("run.jsonl"), Lines.after(LogEnd.NONE, List.of(RecordEncoder.body(Example.header()))));
        queue.acknowledge(1, log.tail().end().position());
    }

    private boolean deliver() {
        queue.append(Example.boot(0));
        return new Delivery(log, queue, options, queue.take()).run();
    }

    private List<Object> read(FaultyStore from) throws IOException {
        Collector found = new Collector();
        new LogScan(from, "run.jsonl", found).run();
        assertThat(found.damages).isEmpty();
        return found.records;
    }

    @Test
    void whatIsAcknowledgedOutlivesThePower() throws Exception {
        assertThat(deliver()).isTrue();
        assertThat(queue.acknowledged()).isEqualTo(2);
        assertThat(queue.position()).isEqualTo(log.tail().end().position());
        assertThat(read(disk.cutPower())).hasSize(2);
        assertThat(heard.words).isEmpty();
    }

    @Test
    void aFullDiskGetsTheReserveBeforeAnybodyHearsThatTheLogIsLost() throws Exception {
        disk.setRoom(disk.usedBytes() + 10);
        assertThat(deliver()).isTrue();
        assertThat(heard.words).singleElement().asString().startsWith("low: ").endsWith("is given up");
        assertThat(read(disk)).hasSize(2);
    }

    @Test
    void afterAFailedForceTheFileIsLeftAtOnceForAFurtherPart() throws Exception {
        disk.failForces(1);
        assertThat(deliver()).isTrue();
        assertThat(heard.words).containsExactly("part 2");
        assertThat(log.reserve().isThere()).isTrue();
        assertThat(read(disk.cutPower())).hasSize(3);
    }

    @Test
    void aDiskThatIsGoneKeepsItsReserveWhenItsOwnerGivesUp() {
        FaultyStore gone = disk.cutPower();
        path.unmount();
        queue.abandon();
        assertThat(deliver()).isFalse();
        assertThat(queue.acknowledged()).isEqualTo(1);
        assertThat(heard.words).singleElement().asString().startsWith("lost: ").contains("cannot be reached");
        assertThat(gone.list()).contains("run.reserve");
    }
}

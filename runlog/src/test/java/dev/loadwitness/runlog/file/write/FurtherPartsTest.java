// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.runlog.Part;
import dev.loadwitness.runlog.file.line.RecordEncoder;
import dev.loadwitness.runlog.file.read.Collector;
import dev.loadwitness.runlog.file.read.Example;
import dev.loadwitness.runlog.file.read.LogScan;
import dev.loadwitness.runlog.file.store.CheckedStore;
import java.io.IOException;
import java.util.List;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;

class FurtherPartsTest {
    private static final int NEVER = Integer.MAX_VALUE;

    private final Heard heard = new Heard();
    private final FaultyStore disk = new FaultyStore(51);
    private final UncheckedStore failing = new UncheckedStore(disk);
    private final CheckedStore store = new CheckedStore(failing);
    private final DiskWatch watch = new DiskWatch(heard.options());
    private final DurableTail tail = new DurableTail(store, "run", LogEnd.NONE, watch);
    private final FurtherParts parts = new FurtherParts(store, "run", Example.RUN, tail, watch);
    private final List<byte[]> boot = List.of(RecordEncoder.body(Example.boot(0)));

    @BeforeEach
    void begin() throws IOException {
        Lines header = Lines.after(LogEnd.NONE, List.of(RecordEncoder.body(Example.header())));
        tail.moveTo(store.create("run.jsonl"), LogEnd.NONE);
        tail.writeFirst(header, new ReserveFile(store, "run", Example.RUN, heard.options()));
    }

    private Part part() throws IOException {
        Collector found = new Collector();
        new LogScan(disk, "run.jsonl", found).run();
        assertThat(found.damages).isEmpty();
        assertThat(found.records).hasSize(3).last().isEqualTo(Example.boot(0));
        return (Part) found.records.get(1);
    }

    @Test
    void aPartSaysHowMuchOfTheFileBeforeCounts() throws Exception {
        LogEnd before = tail.end();
        parts.open(boot);
        assertThat(part()).isEqualTo(new Part(Example.RUN, 2, before.bytes(), before.chain()));
        assertThat(tail.end().part()).isEqualTo(2);
        assertThat(tail.end().n()).isEqualTo(2);
        assertThat(tail.end().bytes()).isEqualTo(store.read("run.part2.jsonl").readAllBytes().length);
    }

    @Test
    void anAttemptThatFailsLeavesNothingAndTheTailWhereItWas() throws Exception {
        LogEnd before = tail.end();
        disk.failForces(1);
        assertThatThrownBy(() -> parts.open(boot)).isInstanceOf(IOException.class);
        assertThat(disk.list()).containsExactly("run.jsonl");
        assertThat(tail.end()).isEqualTo(before);
    }

    @Test
    void anAttemptOfOursThatStayedIsTakenAwayByTheNext() throws Exception {
        failing.failFrom(3, 1000);
        assertThatThrownBy(() -> parts.open(boot)).isInstanceOf(IOException.class);
        assertThat(disk.list()).contains("run.part2.jsonl");
        failing.failFrom(NEVER, 1);
        parts.open(boot);
        assertThat(part().number()).isEqualTo(2);
    }

    @Test
    void anAttemptOfOursThatCannotBeTakenAwayIsPassedOverAndCountsForNothing() throws Exception {
        failing.failFrom(3, 1000);
        assertThatThrownBy(() -> parts.open(boot)).isInstanceOf(IOException.class);
        failing.failFrom(2, 1);
        parts.open(boot);
        assertThat(disk.list()).contains("run.part2.jsonl", "run.part3.jsonl");
        assertThat(part()).isEqualTo(new Part(Example.RUN, 3, 0, part().goodChain()));
    }

    @Test
    void aFileThatThisWriterNeverMadeIsSomebodyElses() throws Exception {
        disk.create("run.part2.jsonl").close();
        assertThatThrownBy(() -> parts.open(boot)).hasMessageContaining("somebody else went on");
        assertThat(disk.list()).containsExactly("run.jsonl", "run.part2.jsonl");
    }
}

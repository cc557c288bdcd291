// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.file.line.Format;
import dev.loadwitness.runlog.file.line.LogPosition;
import dev.loadwitness.runlog.file.line.RecordEncoder;
import dev.loadwitness.runlog.file.read.Example;
import dev.loadwitness.runlog.file.write.RecordQueue.Entry;
import java.nio.charset.StandardCharsets;
import java.time.Duration;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.Timeout;

@Timeout(20)
class RecordQueueTest {
    private static final LogPosition SOMEWHERE = LogEnd.NONE.position();

    private final Heard heard = new Heard();

    private static Event note(int length) {
        return Event.of(Example.at(0, 1), Example.utc(1), EventKind.OPERATOR_NOTE, Map.of("text", "x".repeat(length)));
    }

    private static String text(Entry entry) {
        return new String(entry.body(), StandardCharsets.UTF_8);
    }

    @Test
    void aBatchIsNoMoreThanTheDiskIsGivenAtOnceAndKeepsTheOrder() {
        RecordQueue queue = new RecordQueue(heard.options(4 << 20, 0));
        for (int i = 0; i < 30; i++) {
            queue.append(note(30_000 + i));
        }
        List<Long> tickets = new ArrayList<>();
        List<Integer> sizes = new ArrayList<>();
        while (tickets.size() < 30) {
            List<Entry> batch = queue.take();
            sizes.add(batch.size());
            batch.forEach(entry -> tickets.add(entry.ticket()));
        }
        assertThat(sizes).as("of 30,000 bytes each").containsExactly(8, 8, 8, 6);
        assertThat(tickets).isSorted().startsWith(2L).endsWith(31L);
    }

    @Test
    void aRecordLargerThanABatchIsTakenAlone() {
        RecordQueue queue = new RecordQueue(heard.options(4 << 20, 0));
        queue.append(note(Format.MAX_BATCH + 1));
        queue.append(note(1));
        assertThat(queue.take()).hasSize(1);
        assertThat(queue.take()).hasSize(1);
    }

    @Test
    void theOldestThatIsNotDurableIsOneThatIsTakenUntilThatIsAcknowledged() {
        RecordQueue queue = new RecordQueue(heard.options());
        heard.nowNanos = 10;
        long first = queue.append(note(1));
        assertThat(queue.take()).hasSize(1);
        heard.nowNanos = 30;
        long second = queue.append(note(2));
        assertThat(queue.oldestUndurableAge(100)).isEqualTo(Duration.ofNanos(90));
        queue.acknowledge(first, SOMEWHERE);
        assertThat(queue.oldestUndurableAge(100)).isEqualTo(Duration.ofNanos(70));
        assertThat(queue.undurable()).isEqualTo(1);
        queue.take();
        queue.acknowledge(second, SOMEWHERE);
        assertThat(queue.oldestUndurableAge(100)).isZero();
        assertThat(queue.undurable()).isZero();
    }

    @Test
    void theMemoryLastsAsLongAsRecordsComeAsBefore() {
        int length = RecordEncoder.body(note(100)).length;
        RecordQueue queue = new RecordQueue(heard.options(3L * length, 0));
        heard.nowNanos = 10_000_000_000L;
        queue.append(note(100));
        assertThat(queue.memoryLasts(heard.nowNanos)).isEqualTo(Duration.ofSeconds(20));
        assertThat(queue.memoryTaken()).isEqualTo(1 / 3.0);
    }

    @Test
    void samplesThatWereDroppedAreAnnouncedBeforeWhatComesNextAndOnce() {
        RecordQueue queue = new RecordQueue(heard.options(1, 0));
        assertThat(queue.append(Example.sample(0, 1, 7))).isEqualTo(-1);
        assertThat(queue.append(Example.sample(0, 2.5, 7))).isEqualTo(-1);
        queue.append(note(1));
        queue.append(note(2));
        List<Entry> batch = queue.take();
        assertThat(batch).hasSize(3);
        assertThat(text(batch.get(0)))
                .contains("samples-dropped")
                .contains("\"count\":2")
                .contains("\"from\":1")
                .contains("\"to\":2.5");
        assertThat(text(batch.get(1))).contains("\"x\"");
    }

    @Test
    void theCloseAnnouncesThemToo() {
        RecordQueue queue = new RecordQueue(heard.options(1, 0));
        queue.append(Example.sample(0, 1, 7));
        queue.close();
        queue.close();
        assertThat(queue.take())
                .singleElement()
                .satisfies(e -> assertThat(text(e)).contains("samples-dropped"));
        assertThat(queue.take()).as("closed and empty").isEmpty();
        assertThatThrownBy(() -> queue.append(note(1))).isInstanceOf(IllegalStateException.class);
    }

    @Test
    void whoPausesForTheDiskIsWokenWhenTheOwnerGivesUp() {
        RecordQueue queue = new RecordQueue(heard.options());
        queue.append(note(1));
        queue.take();
        assertThat(queue.pause(Duration.ofNanos(1))).isTrue();
        assertThat(queue.abandon()).isEqualTo(2);
        assertThat(queue.pause(Duration.ofDays(1))).isFalse();
    }

    @Test
    void nobodyWaitsForAWriterThatHasEnded() throws Exception {
        RecordQueue queue = new RecordQueue(heard.options());
        long ticket = queue.append(note(1));
        queue.end();
        assertThat(queue.awaitDurable(ticket, Duration.ofDays(1))).isFalse();
        queue.acknowledge(ticket, SOMEWHERE);
        assertThat(queue.awaitDurable(ticket, Duration.ofDays(1))).isTrue();
    }
}

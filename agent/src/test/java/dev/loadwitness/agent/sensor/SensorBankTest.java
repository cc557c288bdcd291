// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.agent.sensor.SensorFact.SourceBack;
import dev.loadwitness.agent.sensor.SensorFact.SourceSilent;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.io.IOException;
import java.time.Duration;
import java.util.List;
import java.util.concurrent.CountDownLatch;
import java.util.concurrent.TimeUnit;
import java.util.concurrent.atomic.AtomicInteger;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.Timeout;

@Timeout(30)
class SensorBankTest {
    private static final Duration DEADLINE = Duration.ofMillis(500);
    private static final long SECOND = 1_000_000_000L;

    /** Counts its reads and answers with the count, plus whatever the test makes it do. */
    private static final class Stub implements Source {
        private interface Behaviour {
            void run() throws IOException;
        }

        private final String name;
        private final List<Channel> channels;
        private final AtomicInteger reads = new AtomicInteger();
        private final CountDownLatch closed = new CountDownLatch(1);
        private volatile Behaviour behaviour = () -> {};

        Stub(String name, String... ids) {
            this.name = name;
            channels = List.of(ids).stream()
                    .map(id -> Channel.of(id, Metric.TEMPERATURE, Role.CPU, name))
                    .toList();
        }

        @Override
        public String name() {
            return name;
        }

        @Override
        public List<Channel> channels() {
            return channels;
        }

        @Override
        public void read(double[] into, int from) throws IOException {
            int count = reads.incrementAndGet();
            behaviour.run();
            for (int i = 0; i < channels.size(); i++) {
                into[from + i] = count * 10 + i;
            }
        }

        @Override
        public void close() {
            closed.countDown();
        }
    }

    private static void await(CountDownLatch latch) {
        try {
            latch.await();
        } catch (InterruptedException e) {
            throw new IllegalStateException(e);
        }
    }

    @Test
    void valuesStandInTheOrderOfTheSources() throws Exception {
        try (SensorBank bank =
                new SensorBank(List.of(new Stub("a", "a.one", "a.two"), new Stub("b", "b.one")), DEADLINE)) {
            assertThat(bank.channels()).extracting(Channel::id).containsExactly("a.one", "a.two", "b.one");
            Readings reading = bank.take(0);
            assertThat(reading.values()).containsExactly(10, 11, 10);
            assertThat(reading.facts()).isEmpty();
        }
    }

    @Test
    void hangingSourceCostsOnlyItselfAndIsNotAskedAgainUntilItAnswers() throws Exception {
        Stub good = new Stub("good", "good.one");
        Stub bad = new Stub("bad", "bad.one");
        CountDownLatch hang = new CountDownLatch(1);
        try (SensorBank bank = new SensorBank(List.of(bad, good), DEADLINE)) {
            bad.behaviour = () -> await(hang);
            long began = System.nanoTime();
            Readings first = bank.take(0);
            long took = System.nanoTime() - began;
            assertThat(first.values()).containsExactly(Double.NaN, 10);
            assertThat(first.facts()).containsExactly(new SourceSilent("bad", "no answer within 500 ms"));
            assertThat(Duration.ofNanos(took)).isBetween(DEADLINE, DEADLINE.multipliedBy(20));

            began = System.nanoTime();
            Readings second = bank.take(SECOND);
            assertThat(second.values()).containsExactly(Double.NaN, 20);
            assertThat(second.facts()).as("said once").isEmpty();
            assertThat(bad.reads).as("still at the first question").hasValue(1);
            assertThat(Duration.ofNanos(System.nanoTime() - began))
                    .as("a source that is known to hang is not waited for")
                    .isLessThan(DEADLINE);

            bad.behaviour = () -> {};
            hang.countDown();
            Readings back = takeUntilFact(bank, 5 * SECOND);
            assertThat(back.facts()).containsExactly(new SourceBack("bad", Duration.ofSeconds(5)));
            assertThat(back.values()[0])
                    .as("the late answer, 10, is thrown away")
                    .isEqualTo(20);
        }
    }

    private static Readings takeUntilFact(SensorBank bank, long nowNanos) throws InterruptedException {
        for (int i = 0; i < 100; i++) {
            Readings reading = bank.take(nowNanos);
            if (!reading.facts().isEmpty()) {
                return reading;
            }
            TimeUnit.MILLISECONDS.sleep(10);
        }
        throw new AssertionError("no fact in a second");
    }

    @Test
    void interruptedTakeLeavesNoOldAnswerForTheNext() throws Exception {
        Stub slow = new Stub("slow", "slow.one");
        Stub quick = new Stub("quick", "quick.one");
        CountDownLatch hang = new CountDownLatch(1);
        slow.behaviour = () -> await(hang);
        try (SensorBank bank = new SensorBank(List.of(slow, quick), Duration.ofSeconds(20))) {
            Thread taker = Thread.currentThread();
            Thread interrupter = new Thread(() -> {
                while (slow.reads.get() == 0 || quick.reads.get() == 0) {
                    Thread.onSpinWait();
                }
                taker.interrupt();
            });
            interrupter.start();
            assertThatThrownBy(() -> bank.take(0)).isInstanceOf(InterruptedException.class);
            slow.behaviour = () -> {};
            hang.countDown();
            Readings reading = bank.take(SECOND);
            for (int i = 0; i < 100 && Double.isNaN(reading.values()[0]); i++) {
                TimeUnit.MILLISECONDS.sleep(10);
                reading = bank.take(SECOND);
            }
            assertThat(reading.values()[0]).as("not 10, the answer given up").isGreaterThanOrEqualTo(20);
            assertThat(reading.values()[1]).as("not 10, the answer given up").isGreaterThanOrEqualTo(20);
        }
    }

    @Test
    void questionGivenUpBeforeItsThreadCameToItIsAskedAgain() throws Exception {
        Stub source = new Stub("chip", "chip.one");
        try (SensorBank bank = new SensorBank(List.of(source), Duration.ofSeconds(20))) {
            for (int i = 0; i < 100; i++) {
                Thread.currentThread().interrupt(); // gives up at once, before the source's thread gets the lock
                assertThatThrownBy(() -> bank.take(0)).isInstanceOf(InterruptedException.class);
            }
            Readings reading = bank.take(SECOND);
            for (int i = 0; i < 100 && Double.isNaN(reading.values()[0]); i++) {
                TimeUnit.MILLISECONDS.sleep(10); // the last one given up may still have been under way
                reading = bank.take(SECOND);
            }
            assertThat(reading.values()[0]).isNotNaN();
        }
    }

    @Test
    void failingSourceIsSilentWithItsReasonAndBackWhenItAnswers() throws Exception {
        Stub source = new Stub("chip", "chip.one");
        try (SensorBank bank = new SensorBank(List.of(source), DEADLINE)) {
            source.behaviour = () -> {
                throw new IOException("temp1_input: No such device");
            };
            assertThat(bank.take(0).facts()).containsExactly(new SourceSilent("chip", "temp1_input: No such device"));
            source.behaviour = () -> {
                throw new IllegalStateException("odd");
            };
            Readings still = bank.take(SECOND);
            assertThat(still.facts()).isEmpty();
            assertThat(still.values()).containsExactly(Double.NaN);
            source.behaviour = () -> {};
            Readings back = bank.take(3 * SECOND);
            assertThat(back.facts()).containsExactly(new SourceBack("chip", Duration.ofSeconds(3)));
            assertThat(back.values()).containsExactly(30);
        }
    }

    @Test
    void failureWithoutAMessageIsStillAFailure() throws Exception {
        Stub source = new Stub("chip", "chip.one");
        source.behaviour = () -> {
            throw new IOException("");
        };
        try (SensorBank bank = new SensorBank(List.of(source), DEADLINE)) {
            Readings reading = bank.take(0);
            assertThat(reading.values()).containsExactly(Double.NaN);
            assertThat(reading.facts()).containsExactly(new SourceSilent("chip", "IOException"));
        }
    }

    @Test
    void plantedDropoutIsFoundByTheOrdinaryDeadline() throws Exception {
        DropoutSource planted = new DropoutSource(new Stub("chip", "chip.one"));
        try (SensorBank bank = new SensorBank(List.of(planted, new Stub("other", "other.one")), DEADLINE)) {
            assertThat(bank.take(0).facts()).isEmpty();
            planted.plant();
            Readings dropped = bank.take(SECOND);
            assertThat(dropped.values()).containsExactly(Double.NaN, 20);
            assertThat(dropped.facts()).containsExactly(new SourceSilent("chip", "no answer within 500 ms"));
            planted.lift();
            assertThat(takeUntilFact(bank, 2 * SECOND).facts())
                    .containsExactly(new SourceBack("chip", Duration.ofSeconds(1)));
        }
    }

    @Test
    void closingClosesEverySourceButDoesNotWaitForOneThatHangs() throws Exception {
        Stub good = new Stub("good", "good.one");
        Stub bad = new Stub("bad", "bad.one");
        CountDownLatch hang = new CountDownLatch(1);
        bad.behaviour = () -> await(hang);
        SensorBank bank = new SensorBank(List.of(bad, good), DEADLINE);
        bank.take(0);
        bank.close();
        assertThat(good.closed.await(5, TimeUnit.SECONDS)).isTrue();
        assertThat(bad.closed.getCount())
                .as("its own thread is still inside it")
                .isEqualTo(1);
        hang.countDown();
        assertThat(bad.closed.await(5, TimeUnit.SECONDS)).isTrue();
        assertThatThrownBy(() -> bank.take(0)).isInstanceOf(IllegalStateException.class);
    }

    @Test
    void twoChannelsWithOneIdAreRefused() {
        assertThatThrownBy(() -> new SensorBank(List.of(new Stub("a", "x"), new Stub("b", "x")), DEADLINE))
                .hasMessageContaining("'x'");
    }

    @Test
    void deadlineIsFourTenthsOfThePeriodAtMost400Milliseconds() {
        assertThat(SensorBank.deadlineFor(Duration.ofMillis(100))).isEqualTo(Duration.ofMillis(40));
        assertThat(SensorBank.deadlineFor(Duration.ofSeconds(1))).isEqualTo(Duration.ofMillis(400));
        assertThat(SensorBank.deadlineFor(Duration.ofSeconds(60))).isEqualTo(Duration.ofMillis(400));
    }
}

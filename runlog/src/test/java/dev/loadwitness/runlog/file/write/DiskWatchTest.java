// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.runlog.file.store.LogFile;
import java.io.IOException;
import java.nio.ByteBuffer;
import org.junit.jupiter.api.Test;

class DiskWatchTest {
    private final Heard heard = new Heard();
    private final DiskWatch watch = new DiskWatch(heard.options());

    /** Takes so long for each call, and that many bytes of each write. */
    private LogFile file(long nanos, int taken) {
        return new LogFile() {
            @Override
            public int write(ByteBuffer bytes) {
                heard.nowNanos += nanos;
                int count = Math.min(taken, bytes.remaining());
                bytes.position(bytes.position() + count);
                return count;
            }

            @Override
            public void force() throws IOException {
                heard.nowNanos += nanos;
                throw new IOException("planted");
            }

            @Override
            public long size() {
                return 0;
            }

            @Override
            public boolean isCurrent() {
                return true;
            }

            @Override
            public void close() {}
        };
    }

    @Test
    void eachCallThatStoodStillIsToldWhenItEnds() throws Exception {
        watch.write(file(2_000_000_000L, 100), ByteBuffer.allocate(100));
        assertThat(heard.words).as("no longer than is allowed").isEmpty();
        watch.write(file(2_500_000_000L, 60), ByteBuffer.allocate(100));
        assertThat(heard.words).containsExactly("stalled for PT2.5S", "stalled for PT2.5S");
    }

    @Test
    void aCallThatFailsAfterStandingStillIsToldToo() {
        assertThatThrownBy(() -> watch.force(file(3_000_000_000L, 0))).hasMessage("planted");
        assertThat(heard.words).containsExactly("stalled for PT3S");
    }

    @Test
    void aDiskThatTakesNothingIsFull() {
        assertThatThrownBy(() -> watch.write(file(0, 0), ByteBuffer.allocate(1)))
                .isInstanceOf(IOException.class)
                .hasMessage("no room left");
    }

    @Test
    void troubleIsToldOnceItsReasonIsTheLatestAndItsEndSaysHowLong() {
        assertThat(watch.back()).as("nothing was lost").isFalse();
        watch.lost("first");
        heard.nowNanos = 5_000_000_000L;
        watch.lost("second");
        assertThat(watch.trouble()).contains("second");
        heard.nowNanos = 8_000_000_000L;
        assertThat(watch.back()).isTrue();
        assertThat(watch.trouble()).isEmpty();
        assertThat(heard.words).containsExactly("lost: first", "back after PT8S");
    }
}

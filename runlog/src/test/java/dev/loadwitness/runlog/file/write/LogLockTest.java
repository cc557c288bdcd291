// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.runlog.file.store.CheckedStore;
import java.io.IOException;
import org.junit.jupiter.api.Test;

class LogLockTest {
    private final FaultyStore disk = new FaultyStore(62);
    private final UncheckedStore failing = new UncheckedStore(disk);
    private final CheckedStore store = new CheckedStore(failing);

    @Test
    void aSecondIsRefusedUntilTheFirstIsReleased() throws Exception {
        LogLock first = LogLock.take(store, "run");
        assertThatThrownBy(() -> LogLock.take(store, "run"))
                .isInstanceOf(IOException.class)
                .hasMessageContaining("another writer holds run.lock");
        first.release();
        LogLock second = LogLock.take(store, "run");
        first.release();
        assertThat(disk.isLocked("run.lock"))
                .as("not the first one's to release any more")
                .isTrue();
        second.release();
        first.take();
        assertThat(disk.isLocked("run.lock")).isTrue();
    }

    @Test
    void oneThatCannotBeReleasedInOrderIsLetGoAllTheSame() throws Exception {
        LogLock lock = LogLock.take(store, "run");
        failing.failFrom(1, 1);
        lock.release();
        assertThat(failing.failed()).isEqualTo(1);
        lock.take();
        assertThat(disk.isLocked("run.lock")).isTrue();
    }

    @Test
    void aFolderThatTakesNoneIsAMessage() {
        disk.setReadOnly(true);
        assertThatThrownBy(() -> LogLock.take(store, "run"))
                .isInstanceOf(IOException.class)
                .hasMessageContaining("cannot create run.lock")
                .hasMessageContaining("read-only")
                .hasMessageContaining("Choose a folder that can be written");
    }
}

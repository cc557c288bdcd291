// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.file.read.Example;
import dev.loadwitness.runlog.file.store.CheckedStore;
import org.junit.jupiter.api.Test;

class ReserveFileTest {
    private final Heard heard = new Heard();
    private final FaultyStore disk = new FaultyStore(61);
    private final CheckedStore store = new CheckedStore(disk);
    private final ReserveFile reserve = new ReserveFile(store, "run", Example.RUN, heard.options(1 << 20, 4096));

    @Test
    void itGivesItsRoomBackOnce() {
        reserve.make();
        assertThat(disk.usedBytes()).isEqualTo(4096);
        assertThat(reserve.giveUp()).isTrue();
        assertThat(disk.usedBytes()).isZero();
        assertThat(reserve.giveUp()).isFalse();
        assertThat(heard.words).isEmpty();
    }

    @Test
    void aDiskWithoutRoomForItIsSaidAndWhatFittedIsOfUse() {
        disk.shortWrites = 1;
        disk.setRoom(1000);
        reserve.make();
        assertThat(heard.words).singleElement().asString().startsWith("low: no room for a reserve of 4096 bytes");
        assertThat(disk.usedBytes()).isEqualTo(1000);
        assertThat(reserve.giveUp()).isTrue();
    }

    @Test
    void whatAKilledRunLeftIsFoundAndGivenUpInItsPlace() throws Exception {
        reserve.find();
        assertThat(reserve.giveUp()).as("there is none").isFalse();
        reserve.make();
        ReserveFile next = new ReserveFile(store, "run", Example.RUN, heard.options());
        next.find();
        assertThat(next.giveUp()).isTrue();
        assertThat(disk.list()).isEmpty();
    }

    @Test
    void oneThatCannotBeDeletedGivesNoRoom() {
        reserve.make();
        disk.setReadOnly(true);
        assertThat(reserve.giveUp()).isFalse();
        assertThat(reserve.isThere()).isFalse();
    }

    @Test
    void oneThatIsNotAskedForIsNotMade() {
        new ReserveFile(store, "run", Example.RUN, heard.options(1 << 20, 0)).make();
        assertThat(disk.list()).isEmpty();
        assertThat(heard.words).isEmpty();
    }
}

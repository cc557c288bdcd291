// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.read;

import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Sample;
import dev.loadwitness.runlog.file.line.Damage;
import dev.loadwitness.runlog.file.line.Place;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;

/** Keeps what a reader says. Samples are kept as texts, because arrays do not compare by content. */
public final class Collector implements LogVisitor {
    public final List<Object> records = new ArrayList<>();
    public final List<Damage> damages = new ArrayList<>();

    @Override
    public void record(LogRecord record, Place place) {
        records.add(comparable(record));
    }

    @Override
    public void damage(Damage damage) {
        damages.add(damage);
    }

    List<Damage.Kind> kinds() {
        return damages.stream().map(Damage::kind).toList();
    }

    public static Object comparable(LogRecord record) {
        return record instanceof Sample s ? s.at() + " " + s.utc() + " " + Arrays.toString(s.values()) : record;
    }

    public static List<Object> comparable(List<? extends LogRecord> records) {
        return records.stream().map(Collector::comparable).toList();
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

/** One line of a run log. The family is closed in Java; on disk a reader reports a kind it does not know and goes on. */
public sealed interface LogRecord
        permits Header, Part, Boot, ChannelTable, BootEvidence, Sample, Event, Close, UnknownRecord {
    <R> R accept(Handler<R> handler);

    /** One method for each kind, so that a new kind breaks the build wherever it is forgotten. */
    interface Handler<R> {
        R header(Header header);

        R part(Part part);

        R boot(Boot boot);

        R channels(ChannelTable channels);

        R bootEvidence(BootEvidence evidence);

        R sample(Sample sample);

        R event(Event event);

        R close(Close close);

        R unknown(UnknownRecord unknown);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import dev.loadwitness.runlog.file.line.Chain;
import dev.loadwitness.runlog.file.line.RecordEncoder;
import java.io.ByteArrayOutputStream;
import java.nio.ByteBuffer;
import java.util.List;

/**
 * Records as they are appended to a file.
 *
 * @param bytes those not yet taken by the disk: writing moves its position
 * @param end where the log ends when all of them are on the disk
 */
public record Lines(ByteBuffer bytes, LogEnd end) {
    /** Gives the records their numbers and chain values. */
    static Lines after(LogEnd before, List<byte[]> bodies) {
        Chain chain = new Chain();
        byte[] chainHex = Chain.bytes(before.chain());
        ByteArrayOutputStream out = new ByteArrayOutputStream();
        long n = before.n();
        for (byte[] body : bodies) {
            n++;
            out.writeBytes(RecordEncoder.line(n, body, chain, chainHex));
        }
        LogEnd end = new LogEnd(before.part(), n, Chain.text(chainHex), before.bytes() + out.size());
        return new Lines(ByteBuffer.wrap(out.toByteArray()), end);
    }

    /** The same after a line feed, which ends what a crash left there. */
    Lines onNewLine() {
        ByteBuffer fed = ByteBuffer.allocate(1 + bytes.remaining());
        fed.put((byte) '\n').put(bytes).flip();
        return new Lines(fed, new LogEnd(end.part(), end.n(), end.chain(), end.bytes() + 1));
    }
}

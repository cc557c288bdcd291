// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.opencl;

import com.sun.jna.Memory;
import com.sun.jna.Pointer;
import dev.loadwitness.runlog.Shown;
import java.nio.charset.StandardCharsets;
import java.util.Optional;
import org.jspecify.annotations.Nullable;

/** Asks a driver in OpenCL's two steps: how long is it, what is it. Believes neither answer beyond its bounds. */
final class Info {
    private static final int MOST_BYTES = 64 << 10;
    private static final int LONGEST_NAME = 200;

    private Info() {}

    /** One of the functions {@code clGet…Info}, with all but its last three arguments. */
    interface Question {
        int ask(SizeT size, @Nullable Pointer value, SizeT.@Nullable Ref sizeOut);
    }

    /**
     * What it says; empty where the driver does not know the question, as with questions of an extension.
     *
     * @throws OpenClException if it is said to be longer than anything of that kind
     */
    static Optional<byte[]> of(String what, Question question) {
        SizeT.Ref size = new SizeT.Ref(0);
        if (question.ask(new SizeT(0), null, size) != 0 || size.value() == 0) {
            return Optional.empty();
        }
        long bytes = size.value();
        if (bytes < 0 || bytes > MOST_BYTES) {
            throw OpenClException.untrue(what + " is said to be " + Long.toUnsignedString(bytes) + " bytes long");
        }
        Memory value = new Memory(bytes);
        value.clear();
        return question.ask(new SizeT(bytes), value, null) == 0
                ? Optional.of(value.getByteArray(0, (int) bytes))
                : Optional.empty();
    }

    /** As text, up to the zero byte that should be there. */
    static String text(byte[] bytes) {
        int length = 0;
        while (length < bytes.length && bytes[length] != 0) {
            length++;
        }
        return new String(bytes, 0, length, StandardCharsets.UTF_8);
    }

    /** For people: on one line, and no longer than a name is. */
    static String name(byte[] bytes) {
        return Shown.line(text(bytes).strip(), LONGEST_NAME);
    }
}

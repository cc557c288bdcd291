// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.opencl;

import com.sun.jna.IntegerType;
import com.sun.jna.Native;
import com.sun.jna.ptr.ByReference;

/** C's {@code size_t}. */
public final class SizeT extends IntegerType {
    private static final long serialVersionUID = 1;

    /** For JNA. */
    public SizeT() {
        this(0);
    }

    public SizeT(long value) {
        super(Native.SIZE_T_SIZE, value, true);
    }

    /** A {@code size_t*}. */
    public static final class Ref extends ByReference {
        /** For JNA. */
        public Ref() {
            this(0);
        }

        Ref(long value) {
            super(Native.SIZE_T_SIZE);
            if (Native.SIZE_T_SIZE == Long.BYTES) {
                getPointer().setLong(0, value);
            } else {
                getPointer().setInt(0, Math.toIntExact(value));
            }
        }

        long value() {
            return Native.SIZE_T_SIZE == Long.BYTES
                    ? getPointer().getLong(0)
                    : Integer.toUnsignedLong(getPointer().getInt(0));
        }
    }
}

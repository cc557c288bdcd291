// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import com.sun.jna.Function;
import com.sun.jna.NativeLibrary;
import java.io.IOException;
import java.io.OutputStream;
import java.util.Arrays;

/**
 * The server's own way to its parent, so that file descriptor 1 is left to the library and to the Java machine: they may
 * print there, and what they print is thrown away as their errors are.
 */
final class Outlet extends OutputStream {
    private static final int OUTPUT = 1;
    private static final int ERRORS = 2;

    private final Function write;
    private final int descriptor;

    private Outlet(Function write, int descriptor) {
        this.write = write;
        this.descriptor = descriptor;
    }

    /** Takes over what is this process's standard output now. */
    static Outlet takeOver() throws IOException {
        NativeLibrary system = NativeLibrary.getProcess();
        int descriptor = system.getFunction("dup").invokeInt(new Object[] {OUTPUT});
        if (descriptor < 0 || system.getFunction("dup2").invokeInt(new Object[] {ERRORS, OUTPUT}) < 0) {
            throw new IOException("the standard output cannot be taken over");
        }
        return new Outlet(system.getFunction("write"), descriptor);
    }

    @Override
    public void write(int b) throws IOException {
        write(new byte[] {(byte) b}, 0, 1);
    }

    @Override
    public void write(byte[] bytes, int from, int length) throws IOException {
        int done = 0;
        while (done < length) {
            byte[] rest = Arrays.copyOfRange(bytes, from + done, from + length);
            long written = write.invokeLong(new Object[] {descriptor, rest, (long) rest.length});
            if (written <= 0) {
                throw new IOException("nobody reads any more");
            }
            done += (int) written;
        }
    }
}

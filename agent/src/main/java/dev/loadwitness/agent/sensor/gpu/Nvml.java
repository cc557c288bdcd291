// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import com.sun.jna.Function;
import com.sun.jna.Memory;
import com.sun.jna.NativeLibrary;
import com.sun.jna.Pointer;
import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.util.HashMap;
import java.util.Locale;
import java.util.Map;
import org.jspecify.annotations.Nullable;

/**
 * The library, function by function as it is, for one thread. Nothing here interprets a value; each call may block for
 * good or bring the process down.
 */
final class Nvml {
    /** {@code nvmlFieldValue_t}: id, scope, time stamp, latency, value type, return code, value. */
    private static final int FIELD_BYTES = 40;

    /** {@code nvmlSample_t}: time stamp in microseconds, value. */
    private static final int SAMPLE_BYTES = 16;

    /** {@code nvmlPciInfo_t}, third version: an old id of 16 bytes, five numbers, the id of 32. */
    private static final int PCI_BYTES = 68;

    private static final int PCI_ID_AT = 36;
    private static final int PCI_ID_BYTES = 32;
    private static final int TEXT_BYTES = 96;
    private static final int MOST_SAMPLES = 4096;

    /** More than this no machine here has; a library that counts more of them has lost count. */
    static final int MOST_GPUS = 16;

    private final NativeLibrary library;
    private final Map<String, Function> functions = new HashMap<>();
    private final Watch watch;
    private final Memory out = new Memory(256);

    /** Told of every call, for measuring. */
    interface Watch {
        Watch NONE = (function, nanos, code) -> {};

        void called(String function, long nanos, int code);
    }

    /**
     * Loads the library, and only this file: a relative name, which would be sought along a path, is refused.
     *
     * @throws IOException if it cannot be loaded
     */
    Nvml(Path file, Watch watch) throws IOException {
        if (!file.isAbsolute()) {
            throw new IOException(file + " is not an absolute path");
        }
        try {
            library = NativeLibrary.getInstance(file.toString());
        } catch (LinkageError e) {
            throw new IOException("cannot be loaded: " + e.getMessage(), e);
        }
        this.watch = watch;
    }

    /** Calls a function by name; one that this library lacks answers "function not found". */
    int call(String name, Object... arguments) {
        Function function = functions.computeIfAbsent(name, this::find);
        if (function == null) {
            return Code.FUNCTION_NOT_FOUND;
        }
        long begin = System.nanoTime();
        int code = function.invokeInt(arguments);
        watch.called(name, System.nanoTime() - begin, code);
        return code;
    }

    private @Nullable Function find(String name) {
        try {
            return library.getFunction(name);
        } catch (UnsatisfiedLinkError e) {
            return null;
        }
    }

    /** A function whose last argument is where to put an unsigned int. */
    Answer uint(String function, Object... arguments) {
        int code = call(function, withOut(arguments));
        return Answer.of(code, unsigned(out.getInt(0)));
    }

    /** A function whose last argument is where to put an unsigned long long. */
    Answer ulong(String function, Object... arguments) {
        int code = call(function, withOut(arguments));
        return Answer.of(code, unsigned(out.getLong(0)));
    }

    /** A function whose last argument is a structure of numbers of {@code bytes} each; the given ones are picked. */
    Answer[] structure(String function, int bytes, int[] picked, Object... arguments) {
        int code = call(function, withOut(arguments));
        Answer[] answers = new Answer[picked.length];
        for (int i = 0; i < picked.length; i++) {
            long at = (long) picked[i] * bytes;
            answers[i] = Answer.of(code, bytes == Long.BYTES ? unsigned(out.getLong(at)) : unsigned(out.getInt(at)));
        }
        return answers;
    }

    /** A function whose last {@code count} arguments are each where to put an unsigned int. */
    Answer[] uints(String function, int count, Pointer device) {
        out.clear();
        Object[] arguments = new Object[1 + count];
        arguments[0] = device;
        for (int i = 0; i < count; i++) {
            arguments[1 + i] = out.share((long) i * Integer.BYTES);
        }
        int code = call(function, arguments);
        Answer[] answers = new Answer[count];
        for (int i = 0; i < count; i++) {
            answers[i] = Answer.of(code, unsigned(out.getInt((long) i * Integer.BYTES)));
        }
        return answers;
    }

    private Object[] withOut(Object[] arguments) {
        out.clear();
        Object[] all = new Object[arguments.length + 1];
        System.arraycopy(arguments, 0, all, 0, arguments.length);
        all[arguments.length] = out;
        return all;
    }

    int init() {
        return call("nvmlInit_v2");
    }

    void shutdown() {
        call("nvmlShutdown");
    }

    String driverVersion() {
        return text("nvmlSystemGetDriverVersion");
    }

    String name(Pointer device) {
        return text("nvmlDeviceGetName", device);
    }

    /** A text function: where to put it, and how much there is room for. */
    private String text(String function, Object... arguments) {
        Object[] all = new Object[arguments.length + 2];
        System.arraycopy(arguments, 0, all, 0, arguments.length);
        out.clear();
        all[arguments.length] = out;
        all[arguments.length + 1] = TEXT_BYTES;
        return call(function, all) == Code.SUCCESS ? visible(out.getByteArray(0, TEXT_BYTES)) : "";
    }

    /** Up to the first zero or the end, whichever comes first; what is not printable ASCII as {@code \xE2}. */
    static String visible(byte[] text) {
        StringBuilder visible = new StringBuilder();
        for (int i = 0; i < text.length && text[i] != 0; i++) {
            visible.append(
                    text[i] >= ' ' && text[i] <= '~'
                            ? Character.toString(text[i])
                            : String.format(Locale.ROOT, "\\x%02X", text[i]));
        }
        return visible.toString();
    }

    /** A device, or why it cannot be had. */
    record Device(int code, Pointer handle) {}

    Device byAddress(String address) {
        Memory id = new Memory(64);
        id.setString(0, address, StandardCharsets.US_ASCII.name());
        out.clear();
        int code = call("nvmlDeviceGetHandleByPciBusId_v2", id, out);
        return device(code);
    }

    Device byIndex(int index) {
        out.clear();
        int code = call("nvmlDeviceGetHandleByIndex_v2", index, out);
        return device(code);
    }

    private Device device(int code) {
        Pointer handle = code == Code.SUCCESS ? out.getPointer(0) : Pointer.NULL;
        return new Device(code == Code.SUCCESS && handle == null ? Code.NO_HANDLE : code, handle);
    }

    Answer count() {
        return uint("nvmlDeviceGetCount_v2");
    }

    /** In the kernel's form, {@code 0000:01:00.0}; empty if it is not told. */
    String address(Pointer device) {
        Memory pci = new Memory(PCI_BYTES);
        pci.clear();
        if (call("nvmlDeviceGetPciInfo_v3", device, pci) != Code.SUCCESS) {
            return "";
        }
        return kernelForm(visible(pci.getByteArray(PCI_ID_AT, PCI_ID_BYTES)));
    }

    /** The library writes eight digits of domain in capitals, the kernel four small ones (more only where needed). */
    static String kernelForm(String address) {
        return address.toLowerCase(Locale.ROOT).replaceFirst("^0+(?=[0-9a-f]{4,}:)", "");
    }

    /**
     * Asks for several fields of the GPU itself (scope 0) in one call.
     *
     * @param types filled with each value's type; −1 where there is none
     */
    Answer[] fields(Pointer device, int[] ids, int[] types) {
        Memory values = new Memory((long) ids.length * FIELD_BYTES);
        values.clear();
        for (int i = 0; i < ids.length; i++) {
            values.setInt((long) i * FIELD_BYTES, ids[i]);
        }
        int code = call("nvmlDeviceGetFieldValues", device, ids.length, values);
        Answer[] answers = new Answer[ids.length];
        for (int i = 0; i < ids.length; i++) {
            long at = (long) i * FIELD_BYTES;
            if (code != Code.SUCCESS) {
                answers[i] = Answer.failed(code);
                types[i] = -1;
            } else {
                types[i] = values.getInt(at + 24);
                answers[i] = Answer.of(values.getInt(at + 28), value(values, at + 32, types[i]));
            }
        }
        return answers;
    }

    /** {@code nvmlValue_t} by {@code nvmlValueType_t}; NaN for a type that is not known. */
    private static double value(Memory memory, long at, int type) {
        return switch (type) {
            case 0 -> memory.getDouble(at);
            case 1 -> unsigned(memory.getInt(at));
            case 2, 3 -> unsigned(memory.getLong(at));
            case 4 -> memory.getLong(at);
            case 5 -> memory.getInt(at);
            case 6 -> Short.toUnsignedInt(memory.getShort(at));
            default -> Double.NaN;
        };
    }

    /**
     * The driver's own samples.
     *
     * @param highest NaN if there is none
     * @param lastMicros time stamp of the youngest, to be given with the next question
     */
    record Samples(
            int code, int count, double lowest, double highest, double mean, long firstMicros, long lastMicros) {}

    /**
     * @param kind {@code nvmlSamplingType_t}
     * @param afterMicros only samples younger than this; 0 for all that there are
     */
    Samples samples(Pointer device, int kind, long afterMicros) {
        out.clear();
        Pointer type = out;
        Pointer count = out.share(8);
        int code = call("nvmlDeviceGetSamples", device, kind, afterMicros, type, count, Pointer.NULL);
        int room = Math.min(count.getInt(0), MOST_SAMPLES);
        if (code != Code.SUCCESS || room <= 0) {
            return new Samples(code, 0, Double.NaN, Double.NaN, Double.NaN, 0, afterMicros);
        }
        Memory samples = new Memory((long) room * SAMPLE_BYTES);
        count.setInt(0, room);
        code = call("nvmlDeviceGetSamples", device, kind, afterMicros, type, count, samples);
        int got = code == Code.SUCCESS ? Math.min(room, count.getInt(0)) : 0;
        double lowest = Double.POSITIVE_INFINITY;
        double highest = Double.NEGATIVE_INFINITY;
        double sum = 0;
        int used = 0;
        long first = 0;
        long last = afterMicros;
        for (int i = 0; i < got; i++) {
            long at = (long) i * SAMPLE_BYTES;
            long micros = samples.getLong(at);
            double value = value(samples, at + 8, type.getInt(0));
            if (micros > afterMicros && !Double.isNaN(value)) { // a slot that was never filled has time 0
                lowest = Math.min(lowest, value);
                highest = Math.max(highest, value);
                sum += value;
                first = first == 0 ? micros : Math.min(first, micros);
                last = Math.max(last, micros);
                used++;
            }
        }
        return used == 0
                ? new Samples(code, 0, Double.NaN, Double.NaN, Double.NaN, 0, afterMicros)
                : new Samples(code, used, lowest, highest, sum / used, first, last);
    }

    /** How many pages are out of use, for one of two reasons; the list itself is not wanted. */
    Answer retiredPages(Pointer device, int cause) {
        out.clear();
        int code = call("nvmlDeviceGetRetiredPages", device, cause, out, Pointer.NULL);
        // Asked with no room for the list, it says how long the list is, and by this code that there was no room.
        return Answer.of(code == Code.INSUFFICIENT_SIZE ? Code.SUCCESS : code, unsigned(out.getInt(0)));
    }

    private static double unsigned(int value) {
        return (double) Integer.toUnsignedLong(value);
    }

    /** Rounded above 2^53, which no counter here reaches. */
    private static double unsigned(long value) {
        return value >= 0 ? (double) value : (double) value + 0x1p64;
    }
}

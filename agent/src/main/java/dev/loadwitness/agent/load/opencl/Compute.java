// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.opencl;

import com.sun.jna.Memory;
import com.sun.jna.Pointer;
import com.sun.jna.ptr.IntByReference;
import com.sun.jna.ptr.PointerByReference;
import dev.loadwitness.agent.load.opencl.OpenClException.Kind;
import dev.loadwitness.agent.load.worker.ComputeDevice;
import java.util.concurrent.locks.LockSupport;
import org.jspecify.annotations.Nullable;

/** An open device with one queue that does its commands in order. For one thread. */
public final class Compute implements AutoCloseable {
    private static final long QUEUE_PROFILING = 1 << 1;
    private static final long MEM_READ_WRITE = 1;
    private static final int PROGRAM_BUILD_LOG = 0x1183;
    private static final int KERNEL_WORK_GROUP_SIZE = 0x11B0;
    private static final int EVENT_COMMAND_EXECUTION_STATUS = 0x11D3;
    private static final int PROFILING_COMMAND_START = 0x1282;
    private static final int PROFILING_COMMAND_END = 0x1283;
    private static final int LOG_LINES = 4;

    private static final long MOST_ITEMS = 1 << 20;

    /** How often a command that should be done is asked for. A driver's own wait keeps a core busy; this does not. */
    private static final long POLL_NANOS = 200_000;

    /** Far longer than any command takes, even on a processor that does other things first. */
    private static final long PATIENCE_NANOS = 20_000_000_000L;

    private final Calls calls;
    private final Pointer device;
    private final ComputeDevice facts;
    private final Pointer context;
    private final Pointer queue;
    private boolean computedBefore;

    Compute(Calls calls, Pointer device, ComputeDevice facts) {
        this.calls = calls;
        this.device = device;
        this.facts = facts;
        IntByReference code = new IntByReference();
        this.context = calls.clCreateContext(null, 1, new Pointer[] {device}, null, null, code);
        check("clCreateContext", code.getValue(), context);
        this.queue = calls.clCreateCommandQueue(context, device, QUEUE_PROFILING, code);
        check("clCreateCommandQueue", code.getValue(), queue);
    }

    public ComputeDevice device() {
        return facts;
    }

    /** Memory on the device. */
    public final class Buffer implements AutoCloseable {
        private final Pointer pointer;
        private final long bytes;

        private Buffer(Pointer pointer, long bytes) {
            this.pointer = pointer;
            this.bytes = bytes;
        }

        public long bytes() {
            return bytes;
        }

        @Override
        public void close() {
            calls.clReleaseMemObject(pointer);
        }
    }

    /**
     * Takes memory on the device.
     *
     * @throws OpenClException of kind OUT_OF_MEMORY if it does not give so much; drivers may also find that out later
     */
    public Buffer buffer(long bytes) {
        IntByReference code = new IntByReference();
        Pointer pointer = calls.clCreateBuffer(context, MEM_READ_WRITE, new SizeT(bytes), null, code);
        check("clCreateBuffer of " + (bytes >> 20) + " MiB", code.getValue(), pointer);
        return new Buffer(pointer, bytes);
    }

    /** A built program. */
    public final class Program implements AutoCloseable {
        private final Pointer pointer;

        private Program(Pointer pointer) {
            this.pointer = pointer;
        }

        public Kernel kernel(String name) {
            IntByReference code = new IntByReference();
            Pointer kernel = calls.clCreateKernel(pointer, name, code);
            check("clCreateKernel " + name, code.getValue(), kernel);
            return new Kernel(name, kernel);
        }

        @Override
        public void close() {
            calls.clReleaseProgram(pointer);
        }
    }

    /** Builds OpenCL C. */
    public Program build(String source, String options) {
        IntByReference code = new IntByReference();
        Pointer program = calls.clCreateProgramWithSource(context, 1, new String[] {source}, null, code);
        check("clCreateProgramWithSource", code.getValue(), program);
        int built = calls.clBuildProgram(program, 1, new Pointer[] {device}, options, null, null);
        if (built != 0) {
            String log = buildLog(program);
            calls.clReleaseProgram(program);
            throw OpenClException.of(
                    Kind.BUILD_FAILED,
                    "clBuildProgram: " + OpenClException.describe(built)
                            + (log.isEmpty() ? "" : "; the compiler says: " + log));
        }
        return new Program(program);
    }

    private String buildLog(Pointer program) {
        String text;
        try {
            text = Info.of(
                            "the compiler's log",
                            (size, value, sizeOut) -> calls.clGetProgramBuildInfo(
                                    program, device, PROGRAM_BUILD_LOG, size, value, sizeOut))
                    .map(Info::text)
                    .orElse("");
        } catch (OpenClException e) {
            return e.getMessage();
        }
        return String.join(
                " | ",
                text.lines()
                        .map(String::strip)
                        .filter(l -> !l.isEmpty())
                        .limit(LOG_LINES)
                        .toList());
    }

    /** A function of a program, and its arguments. */
    public final class Kernel implements AutoCloseable {
        private final String name;
        private final Pointer pointer;
        private final Memory value = new Memory(Long.BYTES);

        private Kernel(String name, Pointer pointer) {
            this.name = name;
            this.pointer = pointer;
        }

        /** The largest work-group that this kernel can have on this device. */
        public int workGroup() {
            Memory size = new Memory(Long.BYTES);
            size.setLong(0, 0);
            check(
                    "clGetKernelWorkGroupInfo",
                    calls.clGetKernelWorkGroupInfo(
                            pointer, device, KERNEL_WORK_GROUP_SIZE, new SizeT(SIZE_T_BYTES), size, null));
            long items = SIZE_T_BYTES == Long.BYTES ? size.getLong(0) : size.getInt(0);
            if (items < 1 || items > MOST_ITEMS) {
                throw OpenClException.untrue(facts.driver() + " says that the kernel " + name
                        + " can have work-groups of " + Long.toUnsignedString(items));
            }
            return (int) items;
        }

        public Kernel set(int index, int number) {
            value.setInt(0, number);
            return set(index, Integer.BYTES, value);
        }

        public Kernel set(int index, long number) {
            value.setLong(0, number);
            return set(index, Long.BYTES, value);
        }

        public Kernel set(int index, Buffer buffer) {
            value.setPointer(0, buffer.pointer);
            return set(index, com.sun.jna.Native.POINTER_SIZE, value);
        }

        /** Memory of a work-group. */
        public Kernel setLocal(int index, int bytes) {
            return set(index, bytes, null);
        }

        private Kernel set(int index, int bytes, @Nullable Pointer at) {
            check("clSetKernelArg " + name, calls.clSetKernelArg(pointer, index, new SizeT(bytes), at));
            return this;
        }

        @Override
        public void close() {
            calls.clReleaseKernel(pointer);
        }
    }

    private static final int SIZE_T_BYTES = com.sun.jna.Native.SIZE_T_SIZE;

    /** A command that was handed over and may not be done yet. */
    public final class Command {
        private final String what;
        private final Pointer event;

        private Command(String what, Pointer event) {
            check(what, 0, event);
            this.what = what;
            this.event = event;
        }

        /** True once it is done; an exception if it failed. */
        public boolean isDone() {
            Memory status = new Memory(Integer.BYTES);
            checkRunning(
                    "clGetEventInfo",
                    calls.clGetEventInfo(
                            event, EVENT_COMMAND_EXECUTION_STATUS, new SizeT(Integer.BYTES), status, null));
            int now = status.getInt(0);
            if (now < 0) {
                throw computedBefore ? OpenClException.ofRunning(what, now) : OpenClException.ofCall(what, now);
            }
            return now == 0;
        }

        /**
         * Sleeps until it is done.
         *
         * @param dueNanos when it is expected to be, in {@link System#nanoTime}
         */
        public void await(long dueNanos) {
            long early = dueNanos - System.nanoTime() - POLL_NANOS;
            if (early > 0) {
                LockSupport.parkNanos(early);
            }
            long patienceEnds = Math.max(System.nanoTime(), dueNanos) + PATIENCE_NANOS;
            while (!isDone()) {
                if (System.nanoTime() > patienceEnds) {
                    throw OpenClException.of(
                            Kind.DEVICE_LOST,
                            what + " has not ended " + PATIENCE_NANOS / 1_000_000_000
                                    + " s after it should have: the device" + " or its driver hangs");
                }
                LockSupport.parkNanos(POLL_NANOS);
            }
            computedBefore = true;
        }

        /** The device's own clock when it began and ended, in nanoseconds since some moment. Only once it is done. */
        public Span span() {
            return new Span(profile(PROFILING_COMMAND_START), profile(PROFILING_COMMAND_END));
        }

        private long profile(int name) {
            Memory nanos = new Memory(Long.BYTES);
            checkRunning(
                    "clGetEventProfilingInfo",
                    calls.clGetEventProfilingInfo(event, name, new SizeT(Long.BYTES), nanos, null));
            return nanos.getLong(0);
        }

        public void release() {
            calls.clReleaseEvent(event);
        }
    }

    /** From when to when, in nanoseconds. */
    public record Span(long beginNanos, long endNanos) {
        public long nanos() {
            return endNanos - beginNanos;
        }
    }

    /** Hands a kernel over; {@code items} must be a multiple of {@code group}. */
    public Command run(Kernel kernel, long items, int group) {
        PointerByReference event = new PointerByReference();
        checkRunning(
                "clEnqueueNDRangeKernel " + kernel.name,
                calls.clEnqueueNDRangeKernel(
                        queue, kernel.pointer, 1, null, new SizeT.Ref(items), new SizeT.Ref(group), 0, null, event));
        return new Command("kernel " + kernel.name, event.getValue());
    }

    /** Hands over a copy to main memory, which must stay as it is until the command is done. */
    public Command read(Buffer buffer, long offset, Memory into, long bytes) {
        PointerByReference event = new PointerByReference();
        checkRunning(
                "clEnqueueReadBuffer",
                calls.clEnqueueReadBuffer(
                        queue, buffer.pointer, 0, new SizeT(offset), new SizeT(bytes), into, 0, null, event));
        return new Command("read", event.getValue());
    }

    /** Hands over a copy from main memory, which must stay as it is until the command is done. */
    public Command write(Buffer buffer, long offset, Memory from, long bytes) {
        PointerByReference event = new PointerByReference();
        checkRunning(
                "clEnqueueWriteBuffer",
                calls.clEnqueueWriteBuffer(
                        queue, buffer.pointer, 0, new SizeT(offset), new SizeT(bytes), from, 0, null, event));
        return new Command("write", event.getValue());
    }

    /** Lets the device begin with what was handed over. */
    public void flush() {
        checkRunning("clFlush", calls.clFlush(queue));
    }

    private void check(String call, int code) {
        if (code != 0) {
            throw OpenClException.ofCall(call, code);
        }
    }

    /** A driver that says yes must give what was asked for, too. */
    private void check(String call, int code, Pointer handle) {
        check(call, code);
        if (handle == null) {
            throw OpenClException.untrue(facts.driver() + " says that it did " + call + ", but gave nothing");
        }
    }

    private void checkRunning(String call, int code) {
        if (code != 0) {
            throw computedBefore ? OpenClException.ofRunning(call, code) : OpenClException.ofCall(call, code);
        }
    }

    @Override
    public void close() {
        calls.clFinish(queue);
        calls.clReleaseCommandQueue(queue);
        calls.clReleaseContext(context);
    }
}

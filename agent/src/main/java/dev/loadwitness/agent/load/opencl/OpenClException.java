// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.opencl;

import java.util.Map;

/** An OpenCL function did not do what it was asked for. The message says which, and what its answer means. */
public final class OpenClException extends RuntimeException {
    private static final long serialVersionUID = 1;

    /** What the rest of the program can do about it. */
    public enum Kind {
        /** No library, or no driver registered with it. */
        NO_OPENCL,
        NO_SUCH_DEVICE,
        OUT_OF_MEMORY,
        BUILD_FAILED,
        /** A device that worked before does not any more. */
        DEVICE_LOST,
        OTHER
    }

    private record Meaning(String name, String words) {}

    /** Name: {@code cl.h} of the Khronos headers (numbers from there); words: ours. */
    private static final Map<Integer, Meaning> MEANINGS = Map.ofEntries(
            of(-1, "CL_DEVICE_NOT_FOUND", "there is no such device"),
            of(-2, "CL_DEVICE_NOT_AVAILABLE", "the device is there but cannot be used now"),
            of(-3, "CL_COMPILER_NOT_AVAILABLE", "the driver has no compiler"),
            of(-4, "CL_MEM_OBJECT_ALLOCATION_FAILURE", "the device could not give the memory"),
            of(-5, "CL_OUT_OF_RESOURCES", "the device failed, was reset, or has too little left"),
            of(-6, "CL_OUT_OF_HOST_MEMORY", "the driver could not get main memory"),
            of(-11, "CL_BUILD_PROGRAM_FAILURE", "the driver's compiler refused the program"),
            of(-14, "CL_EXEC_STATUS_ERROR_FOR_EVENTS_IN_WAIT_LIST", "an earlier command failed"),
            of(-30, "CL_INVALID_VALUE", "an argument is wrong"),
            of(-33, "CL_INVALID_DEVICE", "the device is not known any more"),
            of(-34, "CL_INVALID_CONTEXT", "the context is not valid any more"),
            of(-36, "CL_INVALID_COMMAND_QUEUE", "the queue is not valid any more"),
            of(-38, "CL_INVALID_MEM_OBJECT", "the buffer is not valid"),
            of(-45, "CL_INVALID_PROGRAM_EXECUTABLE", "the program was not built for this device"),
            of(-46, "CL_INVALID_KERNEL_NAME", "the program has no such kernel"),
            of(-51, "CL_INVALID_ARG_SIZE", "an argument of a kernel has the wrong size"),
            of(-52, "CL_INVALID_KERNEL_ARGS", "a kernel's arguments are not set"),
            of(-54, "CL_INVALID_WORK_GROUP_SIZE", "the work-group does not fit the device"),
            of(-55, "CL_INVALID_WORK_ITEM_SIZE", "the work-group does not fit the device"),
            of(-61, "CL_INVALID_BUFFER_SIZE", "the buffer is larger than the device allows"),
            of(-1001, "CL_PLATFORM_NOT_FOUND_KHR", "no GPU driver is registered for OpenCL"),
            of(-9999, "no name", "one vendor's driver: a kernel touched memory that it must not, or was ended"));

    private final Kind kind;
    private final String message;

    private OpenClException(Kind kind, String message) {
        super(message);
        this.kind = kind;
        this.message = message;
    }

    /** As it was given, so never null. */
    @Override
    public String getMessage() {
        return message;
    }

    private static Map.Entry<Integer, Meaning> of(int code, String name, String words) {
        return Map.entry(code, new Meaning(name, words));
    }

    static OpenClException of(Kind kind, String message) {
        return new OpenClException(kind, message);
    }

    /** A device that has too little memory for what is asked of it. */
    public static OpenClException tooLittle(String what) {
        return new OpenClException(Kind.OUT_OF_MEMORY, what);
    }

    /** What a driver said cannot be so. */
    public static OpenClException untrue(String what) {
        return new OpenClException(Kind.OTHER, what + "; that cannot be: look at the graphics driver");
    }

    /** A call that failed while nothing had been computed yet. */
    static OpenClException ofCall(String call, int code) {
        Kind kind =
                switch (code) {
                    case -1001 -> Kind.NO_OPENCL;
                    case -1, -33 -> Kind.NO_SUCH_DEVICE;
                    case -4, -6, -61 -> Kind.OUT_OF_MEMORY;
                    case -11 -> Kind.BUILD_FAILED;
                    case -2 -> Kind.DEVICE_LOST;
                    default -> Kind.OTHER;
                };
        return new OpenClException(kind, call + ": " + describe(code));
    }

    /** A call that failed on a device that had computed before: then other answers mean that it was lost, too. */
    static OpenClException ofRunning(String call, int code) {
        boolean lost =
                switch (code) {
                    case -2, -5, -14, -33, -34, -36, -9999 -> true;
                    default -> false;
                };
        return lost ? new OpenClException(Kind.DEVICE_LOST, call + ": " + describe(code)) : ofCall(call, code);
    }

    /** An answer in words: its name, number and meaning. */
    static String describe(int code) {
        Meaning meaning = MEANINGS.get(code);
        return meaning == null
                ? "error " + code + ", which this program has no words for"
                : meaning.name + " (" + code + "): " + meaning.words;
    }

    public Kind kind() {
        return kind;
    }
}

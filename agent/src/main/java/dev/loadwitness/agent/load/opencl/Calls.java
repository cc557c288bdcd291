// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.opencl;

import com.sun.jna.Library;
import com.sun.jna.Pointer;
import com.sun.jna.ptr.IntByReference;
import com.sun.jna.ptr.PointerByReference;
import org.jspecify.annotations.Nullable;

/** OpenCL's own functions, under their own names. */
interface Calls extends Library {
    int clGetPlatformIDs(int entries, Pointer @Nullable [] platforms, IntByReference count);

    int clGetPlatformInfo(Pointer platform, int name, SizeT size, @Nullable Pointer value, SizeT.@Nullable Ref sizeOut);

    int clGetDeviceIDs(Pointer platform, long type, int entries, Pointer @Nullable [] devices, IntByReference count);

    int clGetDeviceInfo(Pointer device, int name, SizeT size, @Nullable Pointer value, SizeT.@Nullable Ref sizeOut);

    Pointer clCreateContext(
            @Nullable Pointer properties,
            int count,
            Pointer[] devices,
            @Nullable Pointer notify,
            @Nullable Pointer user,
            IntByReference code);

    Pointer clCreateCommandQueue(Pointer context, Pointer device, long properties, IntByReference code);

    Pointer clCreateProgramWithSource(
            Pointer context, int count, String[] texts, @Nullable Pointer lengths, IntByReference code);

    int clBuildProgram(
            Pointer program,
            int count,
            Pointer[] devices,
            String options,
            @Nullable Pointer notify,
            @Nullable Pointer user);

    int clGetProgramBuildInfo(
            Pointer program,
            Pointer device,
            int name,
            SizeT size,
            @Nullable Pointer value,
            SizeT.@Nullable Ref sizeOut);

    Pointer clCreateKernel(Pointer program, String name, IntByReference code);

    int clGetKernelWorkGroupInfo(
            Pointer kernel, Pointer device, int name, SizeT size, @Nullable Pointer value, SizeT.@Nullable Ref sizeOut);

    int clSetKernelArg(Pointer kernel, int index, SizeT size, @Nullable Pointer value);

    Pointer clCreateBuffer(Pointer context, long flags, SizeT size, @Nullable Pointer host, IntByReference code);

    int clEnqueueNDRangeKernel(
            Pointer queue,
            Pointer kernel,
            int dimensions,
            @Nullable Pointer offset,
            SizeT.Ref global,
            SizeT.Ref local,
            int waitCount,
            @Nullable Pointer waitFor,
            PointerByReference event);

    int clEnqueueReadBuffer(
            Pointer queue,
            Pointer buffer,
            int blocking,
            SizeT offset,
            SizeT size,
            Pointer into,
            int waitCount,
            @Nullable Pointer waitFor,
            PointerByReference event);

    int clEnqueueWriteBuffer(
            Pointer queue,
            Pointer buffer,
            int blocking,
            SizeT offset,
            SizeT size,
            Pointer from,
            int waitCount,
            @Nullable Pointer waitFor,
            PointerByReference event);

    int clGetEventInfo(Pointer event, int name, SizeT size, @Nullable Pointer value, SizeT.@Nullable Ref sizeOut);

    int clGetEventProfilingInfo(
            Pointer event, int name, SizeT size, @Nullable Pointer value, SizeT.@Nullable Ref sizeOut);

    int clFlush(Pointer queue);

    int clFinish(Pointer queue);

    int clReleaseEvent(Pointer event);

    int clReleaseMemObject(Pointer buffer);

    int clReleaseKernel(Pointer kernel);

    int clReleaseProgram(Pointer program);

    int clReleaseCommandQueue(Pointer queue);

    int clReleaseContext(Pointer context);
}

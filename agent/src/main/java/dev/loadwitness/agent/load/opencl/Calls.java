// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.opencl;

import com.sun.jna.Library;
import com.sun.jna.Pointer;
import com.sun.jna.ptr.IntByReference;
import com.sun.jna.ptr.PointerByReference;

/** OpenCL's own functions, under their own names. */
interface Calls extends Library {
    int clGetPlatformIDs(int entries, Pointer[] platforms, IntByReference count);

    int clGetPlatformInfo(Pointer platform, int name, SizeT size, Pointer value, SizeT.Ref sizeOut);

    int clGetDeviceIDs(Pointer platform, long type, int entries, Pointer[] devices, IntByReference count);

    int clGetDeviceInfo(Pointer device, int name, SizeT size, Pointer value, SizeT.Ref sizeOut);

    Pointer clCreateContext(
            Pointer properties, int count, Pointer[] devices, Pointer notify, Pointer user, IntByReference code);

    Pointer clCreateCommandQueue(Pointer context, Pointer device, long properties, IntByReference code);

    Pointer clCreateProgramWithSource(Pointer context, int count, String[] texts, Pointer lengths, IntByReference code);

    int clBuildProgram(Pointer program, int count, Pointer[] devices, String options, Pointer notify, Pointer user);

    int clGetProgramBuildInfo(Pointer program, Pointer device, int name, SizeT size, Pointer value, SizeT.Ref sizeOut);

    Pointer clCreateKernel(Pointer program, String name, IntByReference code);

    int clGetKernelWorkGroupInfo(
            Pointer kernel, Pointer device, int name, SizeT size, Pointer value, SizeT.Ref sizeOut);

    int clSetKernelArg(Pointer kernel, int index, SizeT size, Pointer value);

    Pointer clCreateBuffer(Pointer context, long flags, SizeT size, Pointer host, IntByReference code);

    int clEnqueueNDRangeKernel(
            Pointer queue,
            Pointer kernel,
            int dimensions,
            Pointer offset,
            SizeT.Ref global,
            SizeT.Ref local,
            int waitCount,
            Pointer waitFor,
            PointerByReference event);

    int clEnqueueReadBuffer(
            Pointer queue,
            Pointer buffer,
            int blocking,
            SizeT offset,
            SizeT size,
            Pointer into,
            int waitCount,
            Pointer waitFor,
            PointerByReference event);

    int clEnqueueWriteBuffer(
            Pointer queue,
            Pointer buffer,
            int blocking,
            SizeT offset,
            SizeT size,
            Pointer from,
            int waitCount,
            Pointer waitFor,
            PointerByReference event);

    int clGetEventInfo(Pointer event, int name, SizeT size, Pointer value, SizeT.Ref sizeOut);

    int clGetEventProfilingInfo(Pointer event, int name, SizeT size, Pointer value, SizeT.Ref sizeOut);

    int clFlush(Pointer queue);

    int clFinish(Pointer queue);

    int clReleaseEvent(Pointer event);

    int clReleaseMemObject(Pointer buffer);

    int clReleaseKernel(Pointer kernel);

    int clReleaseProgram(Pointer program);

    int clReleaseCommandQueue(Pointer queue);

    int clReleaseContext(Pointer context);
}

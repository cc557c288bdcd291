// SPDX-License-Identifier: Apache-2.0
/**
 * The few OpenCL functions that the graphics loads need, through JNA; used in worker processes only, because a faulty
 * driver can hang or crash whoever calls it. Names and numbers are those of the Khronos OpenCL 1.2 specification and of its
 * extension specifications.
 */
package dev.loadwitness.agent.load.opencl;

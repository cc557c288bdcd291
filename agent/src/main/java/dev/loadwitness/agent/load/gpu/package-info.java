// SPDX-License-Identifier: Apache-2.0
/**
 * Loads for graphics parts, through OpenCL: multiply-add chains, memory traffic, both at once, ramps, steps, and a march test
 * of graphics memory. Every launch's result is known beforehand, and checked.
 */
package dev.loadwitness.agent.load.gpu;

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load;

/**
 * How far a load has come.
 *
 * @param ownNanos the worker's own time since it began to work
 * @param verified units found right
 * @param errors units found wrong
 */
public record Progress(long ownNanos, long verified, long errors) {
    static final Progress NONE = new Progress(0, 0, 0);
}

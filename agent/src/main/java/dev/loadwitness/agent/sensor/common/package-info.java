// SPDX-License-Identifier: Apache-2.0
/** Who the machine is, less what its owner wants left out. */
package dev.loadwitness.agent.sensor.common;

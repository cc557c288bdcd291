// SPDX-License-Identifier: Apache-2.0
/** The kernel's messages while a run goes on. */
package dev.loadwitness.agent.sensor.linux.message;
